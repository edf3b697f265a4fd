"""Results of measuring, made by hand, to be shown: no recording was made for them."""

from __future__ import annotations

import numpy as np

from sigsim.board.model import Board
from sigsim.measure.response import Ratio
from sigsim.measure.result import Assumed, Curve, Figure, Measured
from sigsim.measure.verdict import BandLoss, Between, StateVerdict, Suspect, Verified
from sigsim.metrics import third_octaves

PICOFARAD = 1e-12


def curve(capacitance: float, name: str) -> Curve:
    """Return the ratio that a capacitance [F] makes behind 100 kΩ, with a little noise on it."""
    f = np.geomspace(20, 20_000, 600)
    fitted = 1 / (1 + 1e5 * (1e-6 + 2j * np.pi * f * capacitance))
    noise = np.random.default_rng(1).normal(0, 3e-3, (2, f.size))
    measured = fitted * np.exp(noise[0] + 1j * noise[1])
    return Curve(Ratio(name, f, measured, np.full(f.size, 3e-3)), fitted)


def measured_cable() -> Measured:
    """Return what a cable of 589 pF and 6 m might come out as."""
    return Measured(
        recipe="cable",
        files={"loop": ("loop.wav",), "before": ("before.wav",), "with": ("cable.wav",)},
        figures={
            "total_capacitance": Figure(589.3e-12, 583.1e-12, 595.6e-12, "F"),
            "capacitance": Figure(96.6e-12, 95.2e-12, 98.1e-12, "F/m"),
            "loss_tangent": Figure(None, None, 0.011, ""),
        },
        point={
            "input_resistance": Figure(1.02e6, 0.99e6, 1.05e6, "Ω"),
            "input_capacitance": Figure(231e-12, 228e-12, 234e-12, "F"),
        },
        assumed={
            "resistor": Assumed(1e5, 0.005, True, "Ω"),
            "output_resistance": Assumed(150.0, 1.0, False, "Ω"),
            "length": Assumed(6.0, 0.0, True, "m"),
            "plug_capacitance": Assumed(5e-12, 0.0, True, "F"),
        },
        not_told_apart=(("loss_tangent", "capacitance"),),
        residual_db=0.0041,
        clock_ppm=-31.2,
        left_out=((49.0, 51.0), (99.0, 101.0)),
        notes=("resistance and inductance of a cable are not measured.",),
        curves=(curve(231e-12, "before.wav"), curve(820e-12, "cable.wav")),
    )


def measured_pickup() -> Measured:
    """Return what a pickup might come out as."""
    return Measured(
        recipe="pickup",
        files={"open": ("open.wav",), "loaded": ("ten.wav", "twenty.wav")},
        figures={
            "resistance": Figure(5.21e3, 5.1e3, 5.33e3, "Ω"),
            "inductance": Figure(2.31, 2.29, 2.33, "H"),
            "capacitance": Figure(212e-12, 205e-12, 219e-12, "F"),
            "loss_resistance": Figure(182e3, 160e3, 207e3, "Ω"),
            "loss_exponent": Figure(0.48, 0.41, 0.55, ""),
            "volume_track": Figure(251e3, 205e3, 297e3, "Ω"),
        },
        curves=(curve(500e-12, "ten.wav"), curve(900e-12, "twenty.wav")),
    )


def verified(board: Board, *, wrong: bool, on: tuple[tuple[str, ...], ...] = ((),)) -> Verified:
    """Return a comparison of a board with its plan.

    Parameters
    ----------
    board : the plan
    wrong : whether the built board loses more at the top than planned
    on : what is on in each of the recordings
    """
    f = third_octaves(100, 10_000)
    planned = 6 * (f / 1e4) ** 1.5
    more = (3 if wrong else 0.3) * (f / 1e4)
    states = tuple(
        StateVerdict(
            state=board.checked(names),
            bands=tuple(
                BandLoss(at, Between(p + m, p + m - 0.05, p + m + 0.05), Between(p, p - s, p + s))
                for at, p, m, s in zip(f.tolist(), planned, more, 0.1 * planned, strict=True)
            ),
            measured=Between(3.4, 3.35, 3.45),
            predicted=Between(2.5, 2.2, 2.8),
        )
        for names in on
    )
    return Verified(
        board=board,
        driven_by=1e5 if wrong else None,
        without_means="bare" if wrong else "direct",
        states=states,
        largest_difference=3.0 if wrong else 0.3,
        limit=1.0,
        within_limit=not wrong,
        agrees_to=2239.0 if wrong else 11_220.0,
        agrees_within=0.6 if wrong else 0.3,
        suspects=(
            Suspect(("the 6 m of lead", "the 3 m of to amp"), "length", 2.4, "m", 0.97),
            Suspect(("tuner", "wah"), "wiring_capacitance", 240e-12, "F", 0.96),
            Suspect(("instrument",), "volume", -3.0, "", 0.9),
            Suspect(("fuzz",), "on", 1.0, "", 0.6),
        )
        if wrong
        else (),
        record_next=("tuner",) if wrong else None,
        files=(("through", "T.wav"), ("without", "W.wav")),
        notes=("T.wav: the right channel has the sweep.",),
    )
