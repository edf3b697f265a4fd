"""Several boards side by side as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.show.cures import hidden_values
from sigsim.show.ends import at_value
from sigsim.show.loss import state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.variants import differences_words

if TYPE_CHECKING:
    from sigsim.decide.compare import CompareReport, Difference, Row


def as_json(report: CompareReport) -> str:
    """Return the comparison as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "reference": report.basis.reference,
        "band_hz": list(report.basis.band),
        **at_value(*report.boards),
        "boards": [
            {
                "label": label,
                "board": board.name,
                **at_value(board),
                "file": board.file,
                "worst_proven": proven,
                "hidden_pickups": [hidden_values(one) for one in hidden],
                "differs": list(differs) if report.names else [],
            }
            for label, board, proven, hidden, differs in zip(
                report.labels,
                report.boards,
                report.proven,
                report.hidden,
                map(differences_words, report.boards),
                strict=True,
            )
        ],
        "leads_differ": report.leads_differ,
        "scenes_shared": list(report.scenes),
        "states": [_row_document(state) for state in report.rows],
    }
    return json_document(values)


def _row_document(state: Row) -> dict[str, Any]:
    return {
        "name": state.name,
        "boards": [
            cell and {**state_values(cell.report), "treble_level_db": finite(cell.treble)}
            for cell in state.cells
        ],
        "differences": [change and _difference_document(change) for change in state.differences],
    }


def _difference_document(difference: Difference) -> dict[str, Any]:
    return {
        "treble_loss_db": finite(difference.treble_loss),
        "treble_loss_with_lead_db": finite(difference.treble_loss_with_lead),
        "level_db": finite(difference.level),
        "loss_db": {f"{f:.0f}": finite(loss) for f, loss in difference.losses.items()},
        "treble_level_db": finite(difference.treble),
        "treble_over_level_db": finite(difference.over_level),
        "corner_hz": difference.corner,
        "resonance_hz": difference.resonance,
        "resonance_db": difference.resonance_height,
    }
