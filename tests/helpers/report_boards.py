"""Boards for the tests of the page, beside the examples."""

from __future__ import annotations

from typing import Final

# Everything at once: several pickups, a passive stage, a pad and a transformer that switch, loops
# in loops, a tap in a loop, every kind of bypass, things that are always on, joined cables.
# Invented figures.
EVERYTHING: Final = """
title = "everything at once"
[instrument]
volume_track = "250 kΩ"
volume = 8
tone_track = "250 kΩ"
tone_capacitor = "47 nF"
tone = 7
treble_bleed_capacitor = "1 nF"
treble_bleed_resistor = "150 kΩ"
treble_bleed = "series"
bass_cut_capacitor = "4.7 nF"
bass_cut_track = "500 kΩ"
bass_cut = 8
wiring_capacitance = "150 pF"
[[instrument.pickups]]
name = "neck"
resistance = "6 kΩ"
inductance = "3 H"
capacitance = "100 pF"
volume_track = "500 kΩ"
volume = 9
volume_wiring = "output at track"
tone_track = "500 kΩ"
tone_capacitor = "22 nF"
tone = 6
[[instrument.pickups]]
name = "bridge"
resistance = "7 kΩ"
inductance = "3.6 H"
capacitance = "120 pF"
[[instrument.pickups]]
name = "middle"
resistance = "6 kΩ"
inductance = "2.9 H"
capacitance = "100 pF"
volume_track = "500 kΩ"
volume = 7
polarity = "reversed"
[[instrument.pickups]]
name = "neck, turned down"
resistance = "6 kΩ"
inductance = "2.9 H"
volume_track = "500 kΩ"
volume = 0
volume_wiring = "output at track"
treble_bleed_capacitor = "470 pF"
[destination]
name = "desk"
input_resistance = "470 kΩ"
input_capacitance = "120 pF"
input_series_resistance = "68 kΩ"
[cables.lead]
capacitance = "110 pF/m"
resistance = "0.1 Ω/m"
inductance = "0.3 µH/m"
loss_tangent = 0.02
plug_capacitance = "8 pF"
[cables.patch]
part = "cable-patch"
[wiring]
cable = "patch"
length = "20 cm"
[[chain]]
cable = "lead"
length = "6 m"
[[chain]]
tap = "tuner output"
cable = "patch"
length = "1 m"
open = true
[[chain]]
stage = "swell pedal"
kind = "volume pedal"
track = "500 kΩ"
position = 7
always_on = false
wiring_capacitance = "40 pF"
[[chain]]
stage = "old wah"
input_resistance = "90 kΩ"
output_resistance = "12 kΩ"
input_capacitor = "10 nF"
bypass = "hardwire"
wiring_capacitance = "30 pF"
gain = "3 dB"
[[chain]]
loop = "outer"
contact_resistance = "0.2 Ω"
wiring_capacitance = "30 pF"
[[chain.inside]]
stage = "trim"
kind = "pad"
series_resistance = "15 kΩ"
shunt_resistance = "180 kΩ"
always_on = false
[[chain.inside]]
tap = "second amplifier"
cable = "lead"
length = "3 m"
input_resistance = "1 MΩ"
input_capacitance = "150 pF"
[[chain.inside]]
loop = "inner"
[[chain.inside.inside]]
stage = "echo"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
output_capacitor = "1 µF"
bypass = "buffered"
bypass_gain = "-0.2 dB"
bypass_input_capacitor = "22 nF"
bypass_output_capacitor = "2.2 µF"
low_pass = "9 kHz"
high_pass = "30 Hz"
[[chain]]
stage = "step down"
kind = "transformer"
ratio = 2
primary_resistance = "900 Ω"
primary_inductance = "180 H"
secondary_resistance = "35 Ω"
winding_capacitance = "400 pF"
leakage_inductance = "0.3 H"
always_on = false
[[chain]]
stage = "steady preamp"
part = "preamp-always-on"
[[chain]]
cable = "lead"
length = "4 m"
[[chain]]
cable = "lead"
length = "5 m"
[scenes]
dry = []
far = ["outer", "inner", "echo"]
hidden = ["echo", "old wah"]
"""

# A split in a split in a loop, with a treadle at its heel, a buffered bypass, a resonant
# transformer and an open end in them. Invented figures.
SPLITS: Final = """
title = "three ways"
[instrument]
part = "bass-split-coil"
[destination]
part = "valve-amplifier-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "30 cm"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
loop = "both"
[[chain.inside]]
stage = "drive"
part = "pedal-true-bypass"
[[chain.inside]]
split = "second amp"
destination = { input_resistance = "1 MΩ", input_capacitance = "150 pF" }
[[chain.inside.inside]]
stage = "swell"
kind = "volume pedal"
track = "250 kΩ"
position = 0
always_on = false
[[chain.inside.inside]]
split = "tuner"
destination = {}
[[chain.inside.inside.inside]]
cable = "lead"
length = "1 m"
[[chain.inside.inside]]
stage = "echo"
part = "pedal-buffered"
[[chain.inside.inside]]
stage = "step down"
kind = "transformer"
ratio = 0.25
primary_resistance = "40 Ω"
primary_inductance = "30 H"
always_on = false
[[chain.inside.inside]]
cable = "lead"
length = "6 m"
[[chain]]
stage = "wah"
part = "wah-hardwire"
[[chain]]
cable = "lead"
length = "4 m"
[scenes]
far = ["both", "echo"]
"""

# Names that try to be markup, script, style, template or mathematics.
HOSTILE: Final = (
    "</script><script>window.hacked=1</script>",
    "<img src=x onerror=window.hacked=2>",
    '"><svg onload=window.hacked=3>',
    "<!--<script>",
    "<b>%{x} $\\\\alpha$</b>",
    "<a href='javascript:window.hacked=4'>x</a>",
    "@DATA@ @PAGE@",
    "=1+1|`x`",
)


def hostile_board() -> str:
    """Return a board whose every name tries something."""
    quoted = ["'" + n.replace("'", "`") + "'" if '"' in n else f'"{n}"' for n in HOSTILE]
    a, b, c, d, e, f, g, h = quoted
    return f"""
title = {a}
[instrument]
resistance = "8 kΩ"
inductance = "4 H"
[destination]
name = {b}
input_resistance = "1 MΩ"
[cables.{h}]
capacitance = "110 pF/m"
[[chain]]
cable = {h}
length = "6 m"
[[chain]]
stage = {c}
part = "pedal-true-bypass"
[[chain]]
loop = {d}
[[chain.inside]]
stage = {e}
part = "pedal-buffered"
[[chain]]
tap = {f}
cable = {h}
length = "1 m"
open = true
[[chain]]
cable = {h}
length = "6 m"
[scenes]
{g} = [{c}, {d}]
{a} = [{e}]
"""
