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


def problems_on_bodies(lesson: Lesson, build: Build) -> list[str]:
    """Everything that is wrong with the steps on their bodies, a sentence each."""
    return [problem for i, step in enumerate(lesson.steps) for problem in step_problems(step, lesson.where(i), build)]


def step_problems(step: Step, where: str, build: Build) -> Iterator[str]:
    """What is wrong with one step; `where` names it."""
    try:
        body = build(lying(step))
    except FurcalError as error:
        yield f"{where}, specimen: {error}"
        return
    try:
        check_on(step, body, where)
    except FurcalError as error:
        yield str(error)


def check_on(step: Step, body: Body, where: str) -> None:
    """Raise FurcalError for the first thing that a step cannot show on its body."""
    view = step.view
    check_ids(view, body, f"{where}, view")
    if view.camera.name == "portal" and view.portal is None:
        raise FurcalError(f"{where}, view, camera: looks down a portal, and there is none; give view.portal too.")
    for name in sorted(view.highlighted):
        if step.picture is None and view.visibility(body.structures[name]) == "off":
            raise FurcalError(f"{where}, view, highlighted: {name} is lit but not shown; {_way_out(step, name)}.")
    if step.transition == "follow" and not view.highlighted & set(body.centrelines):
        raise FurcalError(f"{where}, transition: follow needs a nerve in view.highlighted; name one, or write fly.")
    if view.portal is not None:
        try:
            place(body, *astuple(view.portal))
        except FurcalError as error:
            raise portal_error(error, f"{where}, view") from None


def _way_out(step: Step, name: str) -> str:
    view = step.view
    if name in view.hidden:
        return "take it out of hidden"
    if view.is_wrapped:
        return "dissect deeper than fat, or make skin and fat glassy"
    return "dissect less deep, or list it under shown"
