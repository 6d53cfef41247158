"""The cautions printed wherever a card or a fit is: the work they lead to can hurt somebody."""

from __future__ import annotations

from typing import Final

__all__ = ["CAUTIONS"]

#: Standing: common practice.
CAUTIONS: Final[tuple[str, ...]] = (
    "These are sums on the figures given, not proof that an engine is safe to run. After assembly turn it over slowly by hand, "
    "through two full turns, and read the gap with soft wire on both sides before it is started.",
    "Measure cold and stopped, plug lead off and earthed. A hot engine burns, a running one catches fingers and clothing; "
    "run it only where the exhaust gas can leave.",
    "Fill volumes with a light oil or another liquid that does not catch fire easily. If there is fuel in a burette: no flame, "
    "no spark, open air, gloves, and wipe up spills.",
    "Cutting a head, a barrel or a gasket: clamp the work, wear eye protection, take off sharp edges and wash out every chip. "
    "What is cut away does not come back; cut a little and measure again.",
    "Local rules and the engine maker's limits come before anything printed here. Where in doubt, and before somebody rides on it, "
    "have a qualified engine builder check the work.",
    "Gaskets of older engines may hold asbestos: no dry scraping, sanding, wire brush or air line; wet them, and follow the local rules.",
)
