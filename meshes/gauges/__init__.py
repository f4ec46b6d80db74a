"""Gauges: functions that measure one quantity on a built body, by the name that the table of figures uses.

Each is asked with a body that lies as the figure's source says, and with the words of the table's `arguments`.
"""

from __future__ import annotations

from collections.abc import Callable

from meshes.errors import unknown_word
from meshes.gauges import calibre, courses, discs, pelvis, roots, vertebrae, vessels
from meshes.gauges.parts import AbsentError

Gauge = Callable[..., float]
GAUGES: dict[str, Gauge] = {
    function.__name__: function
    for function in (
        discs.plexus_front_edge, discs.plexus_behind_centre, discs.plexus_front_edge_down_to, discs.roots_front_edge,
        discs.nerve_at_disc, discs.plexus_depth_in_psoas, discs.supine_ahead, discs.free_middle, discs.corridor,
        discs.midline_to_vessel, discs.vessel_to_disc, discs.trunk_medial_of_psoas, discs.trunk_to_psoas,
        discs.trunk_to_aorta, discs.muscle_area, discs.psoas_border, discs.psoas_border_upright, discs.psoas_width,
        discs.psoas_depth_share,
        courses.leaves_psoas_out, courses.leaves_psoas_level, courses.leaves_psoas_above, courses.on_quadratus_out,
        courses.apart_on_back_wall, courses.pierces_from_asis, courses.pierces_above_crest, courses.ends_out,
        courses.ends_above_symphysis, courses.ligament_from, courses.ligament_medial_of_asis, courses.ligament_share,
        courses.ligament_to_end, courses.ligament_sag, courses.below_rib, courses.crest_crossing_from_asis,
        courses.obturator_exit, courses.course_length,
        calibre.ramus_diameter, calibre.ganglion_width, calibre.area_at_ligament, calibre.area_in_groove,
        calibre.flat_width,
        roots.has_roots, roots.plexus_is, roots.variant_share, roots.one_trunk, roots.medial_to_asis,
        vertebrae.endplate_width, vertebrae.endplate_depth, vertebrae.body_height, vertebrae.canal_width,
        vertebrae.canal_depth, vertebrae.process_span, vertebrae.widest_span_lead, vertebrae.longest_process_lead,
        vertebrae.centre_spacing, vertebrae.disc_height, vertebrae.mean_of,
        pelvis.pelvic_distance, pelvis.pelvic_place, pelvis.pelvic_incidence, pelvis.s1_angle_to_app,
        pelvis.crests_above_disc, pelvis.lordosis, pelvis.segment_lordosis, pelvis.femoral_head_radius,
        pelvis.symphysis_gap, pelvis.asis_psis_tilt, pelvis.rib_length, pelvis.rib_angle, pelvis.ribs_above_crest,
        pelvis.quadratus_attachment, pelvis.psoas_over_brim,
        vessels.bore, vessels.ends_in, vessels.wall_thickness, vessels.thicker_than,
    )
}  # fmt: skip

__all__ = ["GAUGES", "AbsentError", "Gauge", "gauge"]


def gauge(name: str) -> Gauge:
    """The gauge of a name. Raises FurcalError for an unknown one."""
    if name not in GAUGES:
        raise unknown_word(name, sorted(GAUGES), "gauge", "published.csv")
    return GAUGES[name]
