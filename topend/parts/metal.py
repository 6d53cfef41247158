"""Metals that parts are made of, as far as they say how a part grows; the figures are in `physics.thermal.MATERIALS`."""

from __future__ import annotations

from typing import Literal

__all__ = ["Metal"]

Metal = Literal["4032", "2218", "356", "AlSi12CuNiMg", "grey iron", "steel", "aluminium"]
