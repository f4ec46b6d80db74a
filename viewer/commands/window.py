"""`furcal` alone: the window."""

from __future__ import annotations

import argparse

from viewer.commands.options import add_scene, add_specimen, chosen_scene, chosen_specimen, names_specimen


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_scene(parser, "open a scene that was saved; --specimen and --seed show it on another body")
    add_specimen(parser)


def run(args: argparse.Namespace) -> int:
    """Open the window; its exit code."""
    from viewer.display import prepare_window

    scene = chosen_scene(args)
    specimen = chosen_specimen(args) if names_specimen(args) else None
    prepare_window()
    from viewer.window import open_window

    return open_window(specimen, None if scene is None else (args.scene, scene))
