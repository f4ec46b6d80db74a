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
#: Samples along a course stand about this far apart, mm, but there are no more than so many of them: 64 samples of the
#: longest course stay within 0.06 mm of the smooth curve.
COURSE_STEP_MM = 2.0
COURSE_SAMPLES_MAX = 72
#: A branch begins this far back inside its parent, mm, so that it leaves at an acute angle and no gap can show.
INSIDE_PARENT_MM = 5.0
#: A nerve keeps at least this far from bone, mm, beyond its own radius: bone surfaces are built to about half that.
NERVE_TO_BONE_MM = 0.6
#: A nerve inside a muscle stays this far under its surface, mm, beyond its own radius, so that none shines through.
UNDER_SURFACE_MM = 0.6
#: Bodies kept in the cache, newest first: a few megabytes each.
BODIES_KEPT = 24
