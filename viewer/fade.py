"""Parts on their way out of the picture or into it: for a moment they are drawn thinner."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vtkmodules.vtkRenderingCore import vtkRenderer

from viewer.part import Part


@dataclass
class Fade:
    """One change of what is shown.

    leaving, entering : part -> how solid it is when it is there, 0..1
    """

    leaving: Mapping[Part, float] = field(default_factory=dict)
    entering: Mapping[Part, float] = field(default_factory=dict)

    def at(self, share: float) -> None:
        """Draw it at a share 0..1 of its time."""
        for part, solid in self.leaving.items():
            part.actor.GetProperty().SetOpacity(solid * (1.0 - share))
        for part, solid in self.entering.items():
            part.actor.GetProperty().SetOpacity(solid * share)

    def end(self, renderer: vtkRenderer) -> None:
        """What leaves has left, and is as solid as before when it comes back; what enters is there."""
        for part, solid in self.leaving.items():
            part.take_from(renderer)
            part.actor.GetProperty().SetOpacity(solid)
        for part, solid in self.entering.items():
            part.actor.GetProperty().SetOpacity(solid)
        self.leaving, self.entering = {}, {}
