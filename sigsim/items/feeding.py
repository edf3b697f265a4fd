"""What feeds a thing: the current it draws, its voltage, which way round its plug is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from sigsim.items.fields import Declared, choice, flag, quantity, text
from sigsim.items.needs import Need

CENTRE_NEGATIVE: Final = "centre negative"
POLARITIES: Final = (CENTRE_NEGATIVE, "centre positive")
# Of pedals and of outputs that do not say it; common practice, no source.
USUAL_VOLTAGE: Final = 9.0


@dataclass(frozen=True, kw_only=True)
class Fed(Declared):
    """What draws a current from a supply."""

    current: float | None = quantity(
        "current", "it draws when on", None, above_zero=True, exact=True
    )
    voltage: tuple[float, ...] = quantity(
        "supply voltage",
        "it is fed with; a list where it takes several",
        (USUAL_VOLTAGE,),
        above_zero=True,
        several="some",
    )
    polarity: str = choice("of its power jack", POLARITIES, CENTRE_NEGATIVE)
    supply: str = text("the supply that feeds it, or one output of it such as left 2", "")


@dataclass(frozen=True, kw_only=True)
class FedStage(Fed):
    """A stage that draws a current, from a supply or from a battery of its own."""

    current_off: float | None = quantity(
        "current", "it draws when off (as when on)", None, exact=True
    )
    battery_inside: bool = flag(
        "it feeds itself, as by a battery inside, and needs no supply", False
    )
    usual_current: tuple[float, float] | None = quantity(
        "current",
        "from and to, of such a box: used with --guess only, where current is not given",
        None,
        above_zero=True,
        several="range",
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("supply",),
            ("battery_inside",),
            "this stage feeds itself, so no supply does",
            words=(False,),
        ),
        Need(
            ("current_off",),
            ("always_on",),
            "this stage is always on, so it never draws what it would when off",
            words=(False,),
        ),
        Need(
            ("current_off",),
            ("current",),
            "what it draws when off says nothing as long as it is not told what it draws when on",
        ),
    )
