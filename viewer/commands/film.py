"""`furcal film`: the body as a radiograph, with the nerves laid on as wires, as PNG or DICOM."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lessons.film import Film
from meshes.errors import FurcalError
from meshes.film.limits import FILM_VIEWS
from meshes.structures import LEVELS, level_key
from viewer.commands.options import (
    add_specimen,
    body_of,
    chosen_specimen,
    number_of,
    whole_number_of,
    word_of,
)

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.film.beam import Beam
    from meshes.film.develop import Picture
    from meshes.portal import Portal

SCHEMA = 1
SUFFIXES = (".png", ".dcm")
#: Pixels a side: fewer carry no words that can be read.
SIZES = (256, 4096)
GAUGE_MM, GAUGE_CROWD_MM = 1.0, 0.5
#: From the source to the detector, mm (common practice, no source: 1000 to 1100), and what of it lies behind the body.
DISTANCE_MM, BEHIND_MM = 1050.0, 270.0
SEED = 1
HELP_NERVES = (
    "all, none, or a list with commas: femoral_left, obturator (both sides), LFCN. With a nerve go the rami and "
    "divisions that form it, from its foramina on; roots in the canal go with all only (all)"
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("out", metavar="OUT", type=Path, help="the file to write, .png or .dcm (DICOM, 16 bits)")
    parser.add_argument(
        "--view", type=word_of(FILM_VIEWS, "--view"), metavar="NAME", required=True, help=", ".join(FILM_VIEWS)
    )
    for name, says in (
        ("turn", "turns the beam about the body's long axis (0)"),
        ("cranial", "tilts the beam towards the head (0)"),
    ):
        parser.add_argument(f"--{name}", type=number_of(f"--{name}"), metavar="DEG", default=0.0, help=says)
    wires = parser.add_argument_group("wires and marks")
    wires.add_argument("--nerves", metavar="LIST", help=HELP_NERVES)
    wires.add_argument(
        "--gauge", type=number_of("--gauge"), metavar="MM", help="thickness of a wire; big nerves have two (1)"
    )
    wires.add_argument("--portal", metavar="FILE.json", type=Path, help="a portal as metal: what dock --json wrote")
    wires.add_argument("--quarters", action="store_true", help="draw the quarters of a disc")
    wires.add_argument(
        "--disc", type=word_of(LEVELS, "--disc"), metavar="LEVEL", help="whose quarters (the portal's disc)"
    )
    wires.add_argument("--names", action="store_true", help="name the wires")
    wires.add_argument(
        "--crowd", action="store_true", help="a side film of L4 to S1: the wires of that side, listed front to back"
    )
    wires.add_argument(
        "--near", action="store_true", help="the part of the body where the wires run, with S1 and the crest, large"
    )
    machine = parser.add_argument_group("source, detector, file")
    machine.add_argument(
        "--size", type=whole_number_of("--size"), metavar="PIXELS", default=1024, help="pixels a side (1024)"
    )
    machine.add_argument("--energy", type=number_of("--energy"), metavar="KEV", help="40 to 100 keV (70)")
    machine.add_argument(
        "--distance", type=number_of("--distance"), metavar="MM", help="from the source to the detector (1050)"
    )
    machine.add_argument("--parallel", action="store_true", help="rays side by side: nothing is magnified")
    machine.add_argument("--clean", action="store_true", help="no grain")
    machine.add_argument(
        "--bits", type=whole_number_of("--bits"), metavar="N", help="8: with words on it; 16: the bare film (8)"
    )
    add_specimen(parser)
    parser.add_argument("--json", action="store_true", help="source, detector and landmarks for programs")


def run(args: argparse.Namespace) -> int:
    """Take the film, write it, and say so."""
    order = _order(args)
    specimen = chosen_specimen(args)
    from viewer.commands.portalfile import portal_in, read_portal

    wanted = read_portal(args.portal, specimen) if args.portal else None
    body = body_of(specimen, wanted.side if wanted else "")
    portal = portal_in(body, wanted, str(args.portal)) if wanted else None
    film = _film(args, order, body)
    beam = _beam(args, order, body, film)
    picture = _exposed(args, order, body, film, beam, portal)
    _write(args, order, body, film, beam, portal, picture)
    if args.json:
        from viewer.answers import print_json

        print_json(_answer(order, body, film, beam, portal))
    else:
        print("\n\n".join([*_crowd_texts(order, body, film, beam), f"{args.out}: written."]))
    return 0


# --- what is asked for


@dataclass(frozen=True)
class Order:
    """The options, once they are known to go together."""

    bits: int
    dicom: bool
    gauge_mm: float
    energy_kev: float
    distance_mm: float
    crowd_side: str


def _order(args: argparse.Namespace) -> Order:
    """Judge the options before anything is built. Raises FurcalError naming option and remedy."""
    from meshes.film.attenuation import attenuation
    from meshes.film.filmed import ENERGY_KEV
    from meshes.film.limits import GAUGE_MM as GAUGES
    from meshes.film.limits import RANGES
    from viewer.picture import checked_target

    checked_target(args.out, "film", SUFFIXES)
    dicom = args.out.suffix.lower() == ".dcm"
    if dicom:
        from viewer.export.dicom import check_pydicom

        check_pydicom()
    bits = args.bits if args.bits is not None else 16 if dicom else 8
    if bits not in ((16,) if dicom else (8, 16)):
        raise FurcalError(f"--bits {bits}: a {'DICOM file has 16' if dicom else 'PNG has 8 or 16'}.")
    marks = [f"--{name}" for name in ("names", "quarters", "crowd") if getattr(args, name)]
    if bits == 16 and marks:
        raise FurcalError(f"{marks[0]}: a film of 16 bits carries no marks; write a PNG of 8 bits.")
    if args.quarters and not (args.portal or args.disc):
        raise FurcalError("--quarters: whose disc? Give --disc LEVEL, or the portal: --portal FILE.json.")
    if args.disc and not args.quarters:
        raise FurcalError("--disc names the disc whose quarters are drawn; give --quarters too, or leave it out.")
    if args.crowd and args.view == "front":
        raise FurcalError("--crowd: wires crowd on a side film; use --view left or --view right.")
    if args.crowd and args.near:
        raise FurcalError("--near: --crowd has a part of the body of its own; leave out one of them.")
    if args.parallel and args.distance is not None:
        raise FurcalError("--distance: a parallel beam comes from no place; leave out --distance or --parallel.")
    gauge = args.gauge if args.gauge is not None else GAUGE_CROWD_MM if args.crowd else GAUGE_MM
    energy = args.energy if args.energy is not None else ENERGY_KEV
    distance = args.distance if args.distance is not None else DISTANCE_MM
    energies = next(iter(attenuation().materials.values())).energies_kev
    for option, value, (low, high), unit in (
        ("--turn", args.turn, RANGES["turn_deg"][:2], "degrees"),
        ("--cranial", args.cranial, RANGES["cranial_deg"][:2], "degrees"),
        ("--gauge", gauge, GAUGES, "mm"),
        ("--size", args.size, SIZES, "pixels"),
        ("--energy", energy, (energies[0], energies[-1]), "keV"),
        ("--distance", distance, RANGES["distance_mm"][:2], "mm"),
    ):
        if not low <= value <= high:  # a nan is in no range
            raise FurcalError(f"{option} {value:g}: must be a number from {low:g} to {high:g} {unit}.")
    return Order(bits, dicom, gauge, energy, distance, args.view if args.crowd else "")


def _film(args: argparse.Namespace, order: Order, body: Body) -> Film:
    """The film that the options ask for; wires 0 for none."""
    from meshes.film.filmed import wired_nerves
    from viewer.commands.wired import wired

    words = args.nerves if args.nerves is not None else "all"
    nerves = wired(words, body) if words.strip().lower() not in ("all", "none") else wired_nerves(body)
    if order.crowd_side:
        nerves = [name for name in nerves if body.structures[name].side == order.crowd_side]
        if not nerves:
            raise FurcalError(f"--nerves {words}: none lies on the {order.crowd_side} side, which --crowd looks at.")
    none = words.strip().lower() == "none"
    if none and (args.crowd or args.names):
        raise FurcalError(f"--nerves none: there are no wires that --{'crowd' if args.crowd else 'names'} could name.")
    if none and args.near:
        raise FurcalError("--nerves none: there are no wires that --near could look at.")
    return Film(
        args.view, args.turn, args.cranial, 0.0 if none else 1.0, order.gauge_mm, frozenset(nerves), args.quarters,
        args.crowd, around=frozenset(nerves) if args.near else frozenset(),
    )  # fmt: skip


# --- the film


def _beam(args: argparse.Namespace, order: Order, body: Body, film: Film) -> Beam:
    """Source and detector. Raises FurcalError for a source inside the body."""
    from meshes.film.beam import beam_for, check_outside
    from meshes.film.filmed import FIELD_MM, centre_mm
    from viewer.filmer import part_of

    where = f"--distance {order.distance_mm:g}"
    to_centre = order.distance_mm - BEHIND_MM
    detector: dict[str, Any] = {"centre_mm": centre_mm(body, args.view), "field_mm": FIELD_MM} | part_of(body, film)
    try:
        beam = beam_for(
            args.view, args.turn, args.cranial, distance_mm=order.distance_mm,
            source_to_centre_mm=max(to_centre, 100.0), size=args.size, parallel=args.parallel, **detector,
        )  # fmt: skip
        check_outside(beam, body.surfaces["skin"])
    except FurcalError as error:
        said = str(error)
        raise FurcalError(f"{where}: {said[:1].lower()}{said[1:]}") from None
    return beam


def _exposed(
    args: argparse.Namespace, order: Order, body: Body, film: Film, beam: Beam, portal: Portal | None
) -> Picture:
    from meshes.film.develop import Response, developed
    from meshes.film.filmed import Filmed, expose, portal_metal, wires
    from viewer.filmer import PHOTONS

    laid = wires(body, sorted(film.nerves), film.gauge_mm) if film.wires else None
    metal = portal_metal(portal) if portal is not None else None
    exposed = expose(Filmed.of(body), beam, laid, metal, order.energy_kev)
    response = Response(photons=0.0 if args.clean else PHOTONS[args.view], seed=SEED)
    return developed(exposed.passed(), beam.pixel_mm, response, exposed.bare)


def _crowded(order: Order, body: Body, film: Film, beam: Beam) -> dict[str, Any]:
    """Level -> rows of the wires that crowd there; nothing where it was not asked for."""
    if not order.crowd_side:
        return {}
    from lessons.filmcrowd import CROWD_LEVELS, crowd

    return {level: crowd(body, order.crowd_side, level, beam, film.nerves) for level in CROWD_LEVELS}


def _crowd_texts(order: Order, body: Body, film: Film, beam: Beam) -> list[str]:
    rows = _crowded(order, body, film, beam)
    if not rows:
        return []
    from lessons.caution import CAUTION
    from lessons.filmcrowd import crowd_text

    return [*(crowd_text(order.crowd_side, level, found) for level, found in rows.items()), CAUTION]


# --- what is written


def _write(
    args: argparse.Namespace, order: Order, body: Body, film: Film, beam: Beam, portal: Portal | None, picture: Picture
) -> None:
    from viewer.export.png16 import write_film_png, write_image_png

    if order.dicom:
        _write_dicom(args.out, body, film, beam, picture)
    elif order.bits == 16:
        write_film_png(picture, args.out, 16, beam.pixel_mm)
    else:
        from viewer.filmpicture import film_picture

        image = film_picture(picture, _marks(args, order, body, film, beam, portal))
        write_image_png(image, args.out, beam.pixel_mm)


def _marks(
    args: argparse.Namespace, order: Order, body: Body, film: Film, beam: Beam, portal: Portal | None
) -> list[Any]:
    from viewer.crowdmarks import crowd_shapes
    from viewer.filmmarks import film_shapes, wire_names
    from viewer.filmpicture import TEXT
    from viewer.painter import text_width

    size, text = (beam.width, beam.height), TEXT * beam.height
    shapes: list[Any] = []
    if order.crowd_side:
        shapes += crowd_shapes(beam, size, body, _crowded(order, body, film, beam), text, text_width)
    elif args.names:
        shapes += wire_names(beam, size, body, sorted(film.nerves), text, text_width)
    disc = f"disc_{level_key(args.disc)}" if args.disc else ""
    return shapes + film_shapes(beam, size, body, film, portal, text, text_width, disc)


def _write_dicom(target: Path, body: Body, film: Film, beam: Beam, picture: Picture) -> None:
    import json

    from meshes.contact import specimen_json
    from viewer.export.dicom import FilmWords, write_film_dicom
    from viewer.filmmarks import SPINE

    def three(vector: Any) -> tuple[float, float, float]:
        x, y, z = (float(v) for v in vector)
        return x, y, z

    words = FilmWords(
        view=film.words,
        specimen=body.specimen.name,
        furcal_version=_version(),
        pixel_mm=beam.pixel_mm,
        columns_to=three(beam.u),
        rows_to=three(beam.v),
        beam_to=three(beam.direction),
        magnification=beam.magnification(body.landmarks[SPINE]),
        specimen_whole=json.dumps(specimen_json(body.specimen), sort_keys=True),
    )
    write_film_dicom(picture, target, words)


def _version() -> str:
    from importlib.metadata import version

    return version("furcal")


def _answer(order: Order, body: Body, film: Film, beam: Beam, portal: Portal | None) -> dict[str, Any]:
    """The film for programs: where it was taken from, and where the landmarks fall on it."""
    import numpy as np

    from lessons.filmcrowd import crowd_json
    from meshes.contact import portal_json, specimen_json

    names = list(body.landmarks.points)
    places = beam.project(np.stack([body.landmarks[name] for name in names]))
    answer = {
        "schema": SCHEMA,
        "furcal_version": _version(),
        "specimen": specimen_json(body.specimen),
        "view": film.view,
        "turn_deg": film.turn_deg,
        "cranial_deg": film.cranial_deg,
        "nerves": sorted(film.nerves) if film.wires else [],
        "gauge_mm": film.gauge_mm,
        "portal": portal_json(portal) if portal is not None else None,
        "source_mm": None if beam.source_mm is None else _rounded(beam.source_mm, 6),
        "direction": _rounded(beam.direction, 12),
        "detector": {
            "origin_mm": _rounded(beam.origin_mm, 6),
            "u": _rounded(beam.u, 12),
            "v": _rounded(beam.v, 12),
            "pixel_mm": beam.pixel_mm,
            "width": beam.width,
            "height": beam.height,
        },
        "energy_kev": order.energy_kev,
        "landmarks_px": {name: _rounded(place, 4) for name, place in zip(names, places, strict=True)},
    }
    rows = _crowded(order, body, film, beam)
    return answer | ({"crowd": {level: crowd_json(found) for level, found in rows.items()}} if rows else {})


def _rounded(values: Iterable[float], digits: int) -> list[float]:
    return [round(float(value), digits) + 0.0 for value in values]
