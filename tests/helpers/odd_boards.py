"""Boards that are allowed and odd: silent, huge, nested, of many scripts, of wild tolerances."""

from __future__ import annotations

import random
from typing import Any, Final, TypeAlias

Table: TypeAlias = dict[str, Any]

# Names as players of many countries could write them, and letters that a layout could trip over.
NAMES: Final = (
    "Gummibärchen", "перегруз", "παραμόρφωση", "歪み", "失真", "왜곡", "תוף מרים", "عود",
    "صدى ۲", "विकृति", "ตัวขยาย", "თბილი", "հնչյուն", "ආදර", "မြန်မာ", "ខ្មែរ", "ᚠᚢᚦ",
    "e\u0301cho", "n\u0303", "a\u0308\u0323\u0302", "👩\u200d🎤", "🎸🔥", "🏳\ufe0f\u200d🌈",
    "👍🏽", "❤\ufe0f", "ℌ𝔢𝔞𝔳𝔶", "ﬁne", "İstanbul", "ß", "O", "0", "Ο", "О", "l", "I", "|",
    "wire", "all off", "every stage off", "reference", "$a_b^c$", "$\\frac$", "<b>&amp;",
    "--json", "-", "#", ";", "%", "\\", "`", "''", '"', "{0}", "[x](y)", "*", "_", "~", "NaN",
    "inf", "1e5", "true", "null", "../..", "C:\\x", "con", "a:b", "a|b", "a/b", "ｗｉｄｅ",
    "ﷺ", "x" * 80, "W" * 80, "中" * 80, "á" * 80, "🎸" * 40, "word " * 15 + "end", "ш" * 80,
)  # fmt: skip
TOLERANCES: Final = ("", "", "", " ± 20 %", " ± 99.9 %", " ± 100 %", " ± 0 %", " ± 1e-9 %")
GAINS: Final = (0, 0, 0, 0, 6, -6, 120, -120, -60)


def odd_board(draw: random.Random) -> Table:
    """Return a board as a table, of which a command should make an answer."""
    return _Maker(draw).board()


class _Maker:
    def __init__(self, draw: random.Random) -> None:
        self.draw = draw
        self.names = draw.sample(NAMES, len(NAMES))
        self.used: list[str] = []
        self.left = draw.choice((1, 2, 3, 4, 6, 6, 9, 40))
        self.many = self.left > 9
        # Of passive stages and loops every one doubles the ways: on a long board there are few.
        self.passive = 8

    def board(self) -> Table:
        draw, board = self.draw, {"instrument": self.instrument()}
        if draw.random() < 0.3:
            board["title"] = draw.choice(NAMES)
        board["destination"] = {"input_resistance": self.written((1e3, 1e6, 1e6, 1e12), "Ω")}
        board["cables"] = {"lead": self.cable(), "patch": self.cable()}
        if draw.random() < 0.6:
            board["wiring"] = {"cable": "patch", "length": self.length()}
        board["chain"] = [{"cable": "lead", "length": self.length()}]
        while self.left > 0:
            board["chain"].append(self.item(0))
        board["chain"].append({"cable": "lead", "length": self.length()})
        board["scenes"] = {
            draw.choice(NAMES): draw.sample(self.used, draw.randint(0, len(self.used)))
            for _ in range(draw.randint(0, 4))
        }
        return board

    def name(self) -> str:
        name = self.names.pop() if self.names else f"s{self.left}"
        self.used.append(name)
        return name

    def item(self, depth: int) -> Table:
        draw, self.left = self.draw, self.left - 1
        kind = draw.random()
        if kind < 0.15 and depth < 4 and self.passive > 0:
            self.passive -= 1
            name = self.name()
            inside = [self.item(depth + 1) for _ in range(draw.randint(1, 3))]
            return {"loop": name, "inside": inside}
        if kind < 0.25:
            return {"cable": "lead", "length": self.length()}
        if kind < 0.3:
            name = self.name()
            self.used.pop()
            return {"tap": name, "cable": "patch", "length": self.length(), "open": True}
        return {"stage": self.name(), **self.stage(kind)}

    def stage(self, kind: float) -> Table:
        draw = self.draw
        if kind < 0.45 and self.passive > 0:
            self.passive -= 1
            return self.passive_stage()
        stage: Table = {
            "input_resistance": self.written((1e3, 1e5, 1e6, 1e12), "Ω"),
            "output_resistance": self.written((0, 1, 1e3, 1e6), "Ω"),
            "gain": draw.choice(GAINS),
            "bypass": draw.choice(("true", "buffered", "hardwire")),
        }
        if draw.random() < 0.3:
            stage["input_capacitor"] = self.written((1e-10, 1e-8, 1e-6), "F")
        if draw.random() < 0.2:
            stage["input_noise_voltage"] = draw.choice(("1 nV/rtHz", "1 uV/rtHz"))
        return stage

    def passive_stage(self) -> Table:
        draw = self.draw
        stage: Table = draw.choice((
            {
                "kind": "pad",
                "series_resistance": self.written((0, 1e6, 1e12), "Ω"),
                "shunt_resistance": self.written((1e-6, 1e3, 1e12), "Ω"),
            },
            {"kind": "transformer", "ratio": draw.choice((1e-3, 1, 10)), "primary_inductance": 1.0},
            {"kind": "volume pedal", "track": "250 kΩ", "position": draw.choice((0, 0.01, 5, 10))},
        ))  # fmt: skip
        return stage | ({"always_on": False} if draw.random() < 0.6 else {})

    def instrument(self) -> Table:
        draw = self.draw
        if draw.random() < 0.15:
            return {"type": "active", "output_resistance": self.written((0, 1e3), "Ω")}
        instrument: Table = {
            "resistance": self.written((1e3, 8e3, 1e6), "Ω"),
            "inductance": self.written((1e-3, 3, 100), "H"),
        }
        if draw.random() < 0.4:
            instrument |= {"volume_track": "250 kΩ", "volume": draw.choice((0, 0.01, 5, 10))}
        if draw.random() < 0.3:
            instrument |= {"capacitance": self.written((0, 1e-10, 1e-6), "F")}
        if draw.random() < 0.3:
            instrument = {"pickups": self.pickups(instrument)} | (
                {"pickups_wiring": "series"} if draw.random() < 0.5 else {}
            )
            if "pickups_wiring" in instrument:
                for pickup in instrument["pickups"]:
                    for key in [key for key in pickup if key.startswith("volume")]:
                        del pickup[key]
        if draw.random() < 0.2:
            instrument |= {"bass_cut_capacitor": self.written((1e-18, 2.2e-9, 1e-3), "F")}
        return instrument | {"wiring_capacitance": self.written((0, 1e-10, 1e-6), "F")}

    def pickups(self, coil: Table) -> list[Table]:
        """Return two pickups that are alike, often of opposite polarity."""
        draw = self.draw
        pickups = [{"name": name, **coil} for name in ("neck", "bridge")]
        if draw.random() < 0.7:
            pickups[1] |= {"polarity": "reversed"}
        if "volume_track" in coil and draw.random() < 0.5:
            pickups[0] |= {"volume_wiring": "output at track"}
        return pickups

    def cable(self) -> Table:
        cable: Table = {"capacitance": self.written((0, 1e-10, 1e-9), "F/m")}
        if self.draw.random() < 0.4:
            cable |= {"resistance": self.draw.choice((0, 0.1, 10)), "loss_tangent": 0.1}
        return cable

    def length(self) -> str:
        return self.written((0, 0, 0.1, 3, 6, 1000), "m")

    def written(self, values: tuple[float, ...], unit: str) -> str:
        return f"{self.draw.choice(values)!r} {unit}{self.draw.choice(TOLERANCES)}"
