"""What a film may be asked for: its views, and the smallest and largest of its numbers. Plain words, nothing heavy."""

FILM_VIEWS = ("front", "left", "right")
#: Legal numbers of a beam: smallest, largest, unit.
RANGES = {
    "turn_deg": (-180.0, 180.0, "degrees"),
    "cranial_deg": (-60.0, 60.0, "degrees"),
    "distance_mm": (300.0, 3000.0, "mm"),
    "source_to_centre_mm": (100.0, 3000.0, "mm"),
    "field_mm": (20.0, 2000.0, "mm"),
    "size": (16.0, 4096.0, "pixels"),
}
#: Thickness of a wire.
GAUGE_MM = (0.2, 5.0)
