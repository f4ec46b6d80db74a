"""What is wrong with the steps of a lesson on the bodies that they show: only a body knows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import astuple

from lessons.lesson import Lesson, Step
from lessons.scenefile import check_ids, portal_error
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.specimen import Specimen

#: Builds or fetches the body of a specimen.
Build = Callable[[Specimen], Body]


def lying(step: Step) -> Specimen:
    """The specimen of a step as its portal wants it to lie."""
    return step.specimen.facing_up(step.view.portal.side) if step.view.portal else step.specimen


def problems_on_bodies(
    lesson: Lesson, build: Build, progress: Callable[[float, str], None] = lambda *_: None
) -> list[str]:
    """Everything that is wrong with the steps on their bodies, a sentence each.

    What is wrong in several steps in a row is told once: mostly one step says it, and the others go on with it.
    """
    runs: list[tuple[str, int, int]] = []  # what is wrong, the first step and the last
    for number, step in enumerate(lesson.steps):
        progress(number / len(lesson.steps), step.title)
        where = lesson.where(number)
        for wrong in (problem.removeprefix(where) for problem in step_problems(step, where, build)):
            at = next((i for i, (what, _, last) in enumerate(runs) if (what, last) == (wrong, number - 1)), None)
            if at is None:
                runs.append((wrong, number, number))
            else:
                runs[at] = wrong, runs[at][1], number
    return [f"{lesson.where(first)}{_and_on(first, last)}{wrong}" for wrong, first, last in runs]


def _and_on(first: int, last: int) -> str:
    return f", and on to step {last + 1}" if last > first else ""


def step_problems(step: Step, where: str, build: Build) -> Iterator[str]:
    """What is wrong with one step; `where` names it."""
    try:
        body = build(lying(step))
    except FurcalError as error:
        yield f"{where}, specimen: {error}"
        return
    yield from map(str, _wrongs(step, body, where))


def check_on(step: Step, body: Body, where: str) -> None:
    """Raise FurcalError for the first thing that a step cannot show on its body."""
    for wrong in _wrongs(step, body, where):
        raise wrong


def _wrongs(step: Step, body: Body, where: str) -> Iterator[FurcalError]:
    view = step.view
    try:
        check_ids(view, body, f"{where}, view")
    except FurcalError as error:
        yield error
    if view.camera.name == "portal" and view.portal is None:
        yield FurcalError(f"{where}, view, camera: looks down a portal, and there is none; give view.portal too.")
    for name in sorted(view.highlighted & set(body.structures)):
        if step.picture is None and view.visibility(body.structures[name]) == "off":
            yield FurcalError(f"{where}, view, highlighted: {name} is lit but not shown; {_way_out(step, name)}.")
    if step.transition == "follow" and not view.highlighted & set(body.centrelines):
        yield FurcalError(f"{where}, transition: follow needs a nerve in view.highlighted; name one, or write fly.")
    if view.portal is not None:
        try:
            place(body, *astuple(view.portal))
        except FurcalError as error:
            yield portal_error(error, f"{where}, view")


def _way_out(step: Step, name: str) -> str:
    view = step.view
    if name in view.hidden:
        return "take it out of hidden"
    if view.is_wrapped:
        return "dissect deeper than fat, or make skin and fat glassy"
    return "dissect less deep, or list it under shown"
