"""A part of the library as a stage that is always on, without a board file around it."""

from __future__ import annotations

from sigsim.board.parts import OURS, Library, Part
from sigsim.board.reading import Reading, merged_part
from sigsim.errors import SigsimError, quote
from sigsim.items import passive_stage as _passive_stages  # noqa: F401  registers its kinds
from sigsim.items.base import STAGE_KINDS, Stage
from sigsim.items.stage import ActiveStage


def powered_part(name: str, stage: str, *, where: str = "", library: Library = OURS) -> ActiveStage:
    """Return a part as a stage that is always on.

    Parameters
    ----------
    name : of the part
    stage : what to call the stage
    where : what a message calls the place that names the part
    library : to look in

    Raises
    ------
    UnknownNameError : there is no such part
    SigsimError : the part is no powered stage
    """
    found = library.part(name, ("stage",), where=where)
    if not _is_powered(found):
        fitting = [n for n, p in library.parts().items() if _is_powered(p)]
        raise SigsimError(
            "this part is no powered stage",
            where=where,
            found=quote(name),
            accepted=", ".join(fitting),
        )
    reading = Reading(library)
    table = {"part": name, "stage": stage, "always_on": True}
    values, _ = merged_part(reading, table, where, ("stage",))
    values.pop("kind", None)
    made = reading.make(ActiveStage, values, where, name)
    if reading.problems:  # one of our own lacks nothing
        problem = reading.problems[0]
        raise SigsimError(problem.what, where=where, found=quote(name), accepted=problem.accepted)
    assert isinstance(made, ActiveStage), "all that is needed is there"
    return made


def stage_of(name: str, stage: str, library: Library = OURS) -> Stage:
    """Return a part as a stage, as a board file makes it of nothing but `part`.

    Parameters
    ----------
    name : of the part
    stage : what to call the stage
    library : to look in

    Raises
    ------
    UnknownNameError : there is no such part
    SigsimError : it is no stage, or lacks something that a stage needs
    """
    reading = Reading(library)
    values, _ = merged_part(
        reading, {"part": name, "stage": stage}, f"part {quote(name)}", ("stage",)
    )
    kind = values.pop("kind", "active")
    made = None
    if not reading.problems:
        made = reading.make(STAGE_KINDS[kind], values, f"part {quote(name)}", name)
    if reading.problems or not isinstance(made, Stage):
        library.part(name, ("stage",))
        what = reading.problems[0].what if reading.problems else "this part is no stage"
        raise SigsimError(what, found=quote(name), accepted="the name of a stage")
    return made


def _is_powered(found: Part) -> bool:
    return found.kind == "stage" and found.values.get("kind", "active") == "active"
