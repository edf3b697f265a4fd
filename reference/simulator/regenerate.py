"""Solve the boards of this folder with ngspice again: `python reference/simulator/regenerate.py`.

Writes `expected.csv` from what the program on the PATH answers. The netlists are this program's,
the numbers are the simulator's.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sigsim.board.reader import read_board
from sigsim.spice.engines import ac, make_engine
from sigsim.spice.netlist import netlist

FOLDER = Path(__file__).parent
HEADER = "board,state,frequency_hz,gain_db,phase_deg"
POINTS_PER_DECADE = 6


def rows() -> list[str]:
    """Return the lines of the file: every board with every stage off and in each scene."""
    engine = make_engine("ngspice", None, 60.0)
    lines = [HEADER]
    for path in sorted(FOLDER.glob("*.toml")):
        board = read_board(path)
        for state in board.named_states():
            answer = ac(engine.run(netlist(board, state, points=POINTS_PER_DECADE).text))
            gain, phase = 20 * np.log10(np.abs(answer.H)), np.degrees(np.angle(answer.H))
            lines += [
                f"{path.stem},{state.name},{f!r},{db:.9f},{deg:.9f}"
                for f, db, deg in zip(answer.frequency.tolist(), gain, phase, strict=True)
            ]
    return lines


if __name__ == "__main__":
    (FOLDER / "expected.csv").write_text("\n".join(rows()) + "\n", encoding="utf-8")
