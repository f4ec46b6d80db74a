"""`furcal` alone: the window."""

from __future__ import annotations

import argparse

from viewer.commands.options import add_specimen, chosen_specimen


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    add_specimen(parser)


def run(args: argparse.Namespace) -> int:
    """Open the window; its exit code."""
    from viewer.display import prepare_window

    specimen = chosen_specimen(args)
    prepare_window()
    from viewer.window import open_window

    return open_window(specimen)
