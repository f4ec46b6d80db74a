"""Every tolerance and rule limit of the rooms, each with its reason."""

from __future__ import annotations

#: Balls along a sweep stand this share of their radius apart: the scallops between them stay under 2 % of the radius.
BALL_SPACING = 0.35
#: Sections of a loft are drawn this far apart, mm, and straight between: a waist of 30 mm radius is met to 0.02 mm.
LOFT_STEP_MM = 2.0
#: How much thinning is held back at the midplane of a symmetric solid: enough that its outline there does not drift.
MIDPLANE_WEIGHT = 10.0
#: Width of the distance band kept on each side of a surface, mm: wider than any fillet or gap that the tables ask for.
FIELD_BAND_MM = 8.0
#: Clearance is refined until it is certain to this much, mm: far below any figure that is printed.
CLEARANCE_MM = 1e-6
#: The same for surfaces without a middle line (a kidney): the lowest point of every triangle is bracketed, mm.
FACET_MM = 1e-3
#: Overlap of portal and bone that still counts as passing, mm: bone surfaces are built to about half a millimetre.
BONE_GRAZE_MM = 0.5
#: Bone of the two vertebrae beside the disc no further than this outside the disc's outline, mm, is what the portal
#: comes to stand on, not what bars it: the rims of the bodies bulge past the disc. Processes and alae reach further.
RIM_BULGE_MM = 5.0
#: Faces across the border of that zone are cut down to this, mm: the answer must not hang on how bone is meshed.
RIM_CUT_MM = 0.2
#: A hip bone bars a way with its crest where the line through the crest's landmarks comes this near the way, mm: the
#: straight line between two of them stays about so close to the crest, which is a bow.
CREST_BOW_MM = 5.0
#: Gaps between two named layers below this are not told as fat, mm: surfaces are built to about half a millimetre.
LAYER_GAP_MM = 0.5
#: Rays on the portal's rim beside its axis for the layer list: 2 mm apart on a portal of 22 mm.
RIM_RAYS = 32
#: Widest working channel, longest way past the disc's border and steepest tilt that are still a docked portal.
PORTAL_RADIUS_MAX_MM = 40.0
PORTAL_DEPTH_MAX_MM = 80.0
PORTAL_TILT_MAX_DEG = 60.0
#: Furthest tilt at which a way past bone is sought: steeper, a channel no longer stands flat on a disc.
CLEARING_TILT_MAX_DEG = 30
#: Bone is sought this far outwards from the disc, mm: further than any skin of any specimen.
REACH_MM = 400.0
#: Samples along a course stand about this far apart, mm, but there are no more than so many of them: chords stay
#: within 0.06 mm of the smooth curve where it bends by a radius of 30 mm or more, within 0.25 mm at its sharpest turns.
COURSE_STEP_MM = 2.0
COURSE_SAMPLES_MAX = 140
#: A branch begins this far back inside its parent, mm, so that it leaves at an acute angle and no gap can show.
INSIDE_PARENT_MM = 5.0
#: Where a posture moves the plexus, a branch moves with what it hangs on and turns to its own way over this length, mm.
OWN_WITHIN_MM = 12.0
#: A nerve keeps at least this far from bone, mm, beyond its own radius: bone surfaces are built to about half that.
NERVE_TO_BONE_MM = 0.6
#: A nerve inside a muscle stays this far under its surface, mm, beyond its own radius, so that none shines through.
UNDER_SURFACE_MM = 0.6
#: How far in front of itself a nerve inside psoas looks for the front of the muscle, mm, and in which steps: half as
#: far again as any posture moves it, in steps that straight lines between them follow to a tenth of a millimetre.
ROOM_MOST_MM = 15.0
ROOM_STEP_MM = 0.5
#: Bodies kept in the cache, those used last: a few megabytes each.
BODIES_KEPT = 24
#: A half-written body in the cache that is older than this, s, is left over from a program that was killed.
PART_KEPT_S = 3600.0
#: A published mean that comes without any spread: how far ours may lie from it, by what is measured, each with the
#: reason. Where another series gives a standard deviation of the same quantity the bound is about one of it.
MEAN_ONLY: dict[str, float] = {
    "plexus_front_edge": 0.05,  # three cadavers, a wire on a film: 1.7 mm of a disc
    "corridor": 5.0,  # other series spread by 6 to 8 mm
    "trunk_medial_of_psoas": 2.5,  # another series spreads by 1.3 to 3.5 mm
    "on_quadratus_out": 10.0,  # the source rounds to 5 mm and gives no spread: about 10
    "leaves_psoas_out": 10.0,  # the same source
    "pierces_from_asis": 12.0,  # another series of the same point spreads by 11 to 13 mm
    "ends_out": 10.0,  # another series spreads by 5 to 13 mm
    "ends_above_symphysis": 10.0,  # as sideways
    "obturator_exit": 5.0,  # medians of 28 sides to the millimetre; the canal is some 10 mm wide
    "ligament_medial_of_asis": 10.0,  # a finger's breadth; means of single series run from 5 to 29 mm
    "endplate_width": 3.0,  # single series spread by 3 to 5 mm
    "body_height": 2.0,  # single series spread by 2 mm
    "canal_width": 2.5,  # single series spread by 2 to 3 mm
    "canal_depth": 2.0,  # single series spread by 2 mm
    "crests_above_disc": 5.0,  # still within the disc and the lower third of L4, where three quarters of people have it
    "rib_length": 10.0,  # read on films of ribs that differ by centimetres
    "rib_angle": 10.0,  # "45 degrees in three quarters of films"
    "psoas_over_brim": 12.0,  # the line of a muscle some 25 mm wide, in one model pelvis that is 3 % wider
    "variant_share": 5.0,  # shares of single series differ by more
}
#: Beside psoas within this of its outer border a nerve still counts with the plexus at that disc, mm.
BESIDE_PSOAS_MM = 3.0
#: The middle of a nerve this close to a muscle's surface runs on it, mm: its radius, a gap, and a fold of fat.
ON_MUSCLE_MM = 5.0
#: A course that ends this near a flat cut of the body leaves it there, mm: its table means the cut, not a free end.
END_REACH_MM = 4.0
#: There it is turned square to the cut over this length, mm: the flat end of a wide vessel then lies flush in it.
SQUARE_WITHIN_MM = 10.0
#: Points of each bone, spread over it, that soft tissue hangs on when a body is bent or resized: some 20 mm apart on a
#: hip bone, so that what lies on bone strays from it by less than about a millimetre.
HANDLES_PER_BONE = 64
#: "Here" in "what crosses here?": what a retractor blade or a careless instrument reaches from a point, mm.
AROUND_MM = 10.0
#: A per cent that is printed to one decimal lies within half of it of n / of, and of what floats add to that.
PER_CENT_ROUNDING = 0.05 + 1e-9
