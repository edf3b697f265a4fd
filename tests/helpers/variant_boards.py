"""A board with variants of every sort, for the tests of the page that switches between them."""

from __future__ import annotations

from typing import Final

# Invented figures. The names of two variants are meant to be taken for markup.
VARIED: Final = """
title = "two basses and a loop"
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[cables.lead]
part = "cable-standard"
[cables.patch]
part = "cable-patch"
[wiring]
cable = "patch"
length = "25 cm"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "tuner"
part = "tuner-true-bypass"
[[chain]]
stage = "fuzz"
part = "fuzz-low-impedance"
[[chain]]
loop = "wet"
[[chain.inside]]
stage = "echo"
part = "pedal-true-bypass"
[[chain.inside]]
stage = "swell"
part = "modulation-true-bypass"
[[chain]]
stage = "preamp"
part = "preamp-pedal"
[[chain]]
cable = "lead"
length = "9 m"
[scenes]
quiet = []
loud = ["fuzz", "preamp"]
[variants.active]
instrument = { part = "bass-active" }
[variants."<b>other drive</b>"]
fuzz = { part = "drive-high-impedance", stage = "drive" }
[variants."long & thick"]
cables.lead = { capacitance = "180 pF/m" }
wiring = { length = "1 m" }
[variants.dry]
out = ["wet"]
"""
NAMES: Final = ("active", "<b>other drive</b>", "long & thick", "dry")
"""In the order of the file."""

SMALL: Final = """
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[[chain]]
stage = "fuzz"
part = "fuzz-low-impedance"
[[chain]]
split = "side"
inside = [{ stage = "far", part = "pedal-true-bypass" }]
destination = { part = "solid-state-amplifier-input" }
[variants.active]
instrument = { part = "bass-active" }
[variants.alone]
out = ["side"]
"""
