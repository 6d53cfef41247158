"""Port timing against a karting rule's arithmetic, print and mpmath."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import ports
from topend.physics import slider_crank as sc
from topend.physics import volumes as vol

E125 = {"throw": 27.25e-3, "rod_length": 110e-3, "offset": 0.0}
AREA = np.pi * 0.027**2


def test_karting_199_degrees() -> None:
    """Karting regulation, 125 gearbox class (2013 national handbook): exhaust opening at most 199 deg, chamber at least 11 cm³.

    Arithmetic on the generic E125 (reference page, computed): opens 80.5 ATDC, x = 26.0863126988 mm, ratios 12.34700427 and
    6.43122021 with 11 cm³ taken as the clearance (a regulation fill is not that).
    """
    opens = np.radians((360 - 199) / 2)
    x = float(sc.piston_drop(crank_angle=opens, **E125))
    assert x * 1e3 == pytest.approx(26.0863126988, abs=5.1e-11)
    down, up = sc.crank_angles_from_drop(drop=x, **E125)
    assert float(np.degrees(ports.port_duration(opens=down, closes=up))) == pytest.approx(199.0, abs=1e-10)
    swept = vol.swept_volume(bore_area=AREA, piston_travel=sc.piston_travel(**E125))
    assert float(vol.compression_ratio(swept_volume=swept, clearance_volume=11e-6)) == pytest.approx(12.34700427, abs=5.1e-9)
    trapped = vol.trapped_compression_ratio(bore_area=AREA, exhaust_drop=x, clearance_volume=11e-6)
    assert float(trapped) == pytest.approx(6.43122021, abs=5.1e-9)


@given(top=st.floats(0.02, 0.03), deck=st.floats(-0.001, 0.003), raised=st.floats(0.0001, 0.001), offset=st.floats(-2e-3, 2e-3))
def test_a_raised_barrel_opens_earlier_and_longer(top: float, deck: float, raised: float, offset: float) -> None:
    crank = {**E125, "offset": offset}

    def timing(c: float) -> tuple[float, float]:
        drop = ports.port_drop(port_top=top, deck_clearance=c)
        down, up = sc.crank_angles_from_drop(drop=drop, **crank)
        return float(down), float(ports.port_duration(opens=down, closes=up))

    opens, duration = timing(deck)
    opens_raised, duration_raised = timing(deck + raised)
    assert opens_raised < opens
    assert duration_raised > duration
    # a small rise moves the opening by rise over dx/dθ
    little = 1e-9
    first = sc.piston_speed(crank_angle=opens, crank_speed=1.0, **crank)
    assert timing(deck + little)[0] - opens == pytest.approx(-little / float(first), rel=1e-4)


def test_blowdown_is_on_the_downstroke() -> None:
    assert float(ports.blowdown(exhaust_opens=1.5, transfer_opens=2.0)) == 0.5


ONE_ROW = {
    "port_drop": {"port_top": 0.03, "deck_clearance": 0.001},
    "port_duration": {"opens": 1.5, "closes": 1.4},
    "blowdown": {"exhaust_opens": 1.5, "transfer_opens": 2.0},
}


def test_every_kernel_is_tried_for_its_shapes() -> None:
    assert set(ONE_ROW) == set(ports.__all__)


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: object) -> None:
    kernel_shapes(getattr(ports, name), ONE_ROW[name])  # type: ignore[operator]
