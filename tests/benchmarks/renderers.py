"""The renderers by name: their kinds, and the drawing of one face."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import faces
from tests.benchmarks.shop import draw as shop
from tests.benchmarks.shop.kinds import KINDS as SHOP_KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


@dataclass(frozen=True, slots=True, kw_only=True)
class Renderer:
    """Kinds by name (each with `tier`, `light`, `grainy`) and how one is drawn."""

    kinds: Mapping
    draw_once: Callable  # (kind, seed, base, folder or None) -> DrawnFace


RENDERERS = {
    "second": Renderer(kinds=faces.KINDS, draw_once=faces.draw_once),
    "third": Renderer(kinds=SHOP_KINDS, draw_once=shop.draw_once),
}
