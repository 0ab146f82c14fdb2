"""Other people's files: motion capture as C3D, video key points as JSON."""

from __future__ import annotations

from squatlab.adapters.c3d import read_c3d
from squatlab.adapters.contents import contents
from squatlab.adapters.key_points import read_coco

__all__ = ["contents", "read_c3d", "read_coco"]
