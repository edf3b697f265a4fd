"""What is heard of a recording, against the deconvolution of a general acoustics library.

pyfar inverts the spectrum of what was played, regularised outside its band, as S. Müller and
P. Massarani describe it (J. Audio Eng. Soc. 49 (2001)).
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
from helpers.bench import Complexes, Floats, Recorder, Sweep
from helpers.bench_circuits import Socket, instrument
from scipy.signal.windows import tukey

from sigsim.measure.heard import hear
from sigsim.measure.played import read_played

SWEEP = Sweep(seconds=4.0, repeats=1, pause=3.0)
COIL = {"resistance": 8e3, "inductance": 3.0, "capacitance": 120e-12, "loss_resistance": 300e3}


def _by_pyfar(recorded: Path, played: Path, frequency: Floats) -> Complexes:
    """Return the response at these frequencies [Hz], its start where the file's is."""
    with warnings.catch_warnings():
        # Its own notices of what it will rename, and those of what it imports.
        warnings.simplefilter("ignore")
        import pyfar

        made, heard = pyfar.io.read_audio(played), pyfar.io.read_audio(recorded)
        size = max(made.n_samples, heard.n_samples)
        inverted = pyfar.dsp.regularized_spectrum_inversion(
            pyfar.dsp.pad_zeros(made, size - made.n_samples), (SWEEP.low, SWEEP.high),
            normalized=False,
        )  # fmt: skip
        spectrum = inverted.freq[0] * pyfar.dsp.pad_zeros(heard, size - heard.n_samples).freq[0]
        found = pyfar.Signal(spectrum, SWEEP.rate, n_samples=size, domain="freq")
    impulses = np.asarray(found.time[0])
    # What the response lasts, and its flanks: below the band the inversion rings on.
    time = np.arange(-SWEEP.rate // 2, SWEEP.rate) / SWEEP.rate
    first = np.argmax(np.abs(impulses)) - SWEEP.rate // 2
    part = np.take(impulses, first + np.arange(time.size), mode="wrap") * tukey(time.size, 0.5)
    return np.array([part @ np.exp(-2j * np.pi * f * time) for f in frequency])


def test_a_response_is_that_of_a_deconvolution_by_others(tmp_path: Path) -> None:
    quiet = Recorder(SWEEP, 4, -200.0, -300.0, 50.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    recorded = tmp_path / "recorded.wav"
    quiet.record(recorded, Socket().point(100e3, instrument(COIL)))
    played = SWEEP.write(tmp_path / "played.wav")
    heard = hear(recorded, read_played(played))
    inside = (heard.frequency > 40) & (heard.frequency < 16e3)
    frequency, ours = heard.frequency[inside][::6], heard.H[inside][::6]
    ratio = ours / _by_pyfar(recorded, played, frequency)
    phase = np.unwrap(np.angle(ratio))
    line = np.polynomial.Polynomial.fit(frequency, phase, 1)
    # 24 bits are 1e-6 of this sweep; what is left is what each takes as the response's end.
    assert np.max(np.abs(np.abs(ratio) - 1)) < 1e-4
    assert np.max(np.abs(phase - line(frequency))) < 1e-4
