"""Everything a person sees or types."""
