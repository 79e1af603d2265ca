"""Damaged and made-up files where the program keeps what it wants to find again."""

from __future__ import annotations

import copy
import hashlib
import io
import json
import os
import zipfile

import h5py
import numpy as np
import pytest

from simulator.answers.many_runs import Runner
from simulator.answers.members import Outcome, Span, Task
from simulator.answers.outputs import OUTPUTS
from simulator.errors import StoreError
from simulator.run.checkpoint import Place, check_place
from simulator.section.kept_reduction import reduction_of
from simulator.store.checkpoint import read_checkpoint
from simulator.store.kept_members import KeptMembers
from simulator.store.kept_reductions import KeptReductions
from simulator.store.unfinished import check_counts


def packed(arrays: dict[str, np.ndarray]) -> bytes:
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **arrays)
    return buffer.getvalue()


def doubled(arrays: dict[str, np.ndarray]) -> bytes:
    """An archive whose list of contents names the same bytes many times."""
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    with zipfile.ZipFile(buffer, "a") as archive:
        for number in range(5):
            entry = copy.copy(archive.infolist()[0])
            entry.filename = f"more{number}.npy"
            archive.filelist.append(entry)
            archive.NameToInfo[entry.filename] = entry
        archive._didModify = True
    return buffer.getvalue()


@pytest.mark.parametrize("bomb", [packed, doubled])
def test_archives_that_swell(tmp_path, bomb, little_memory):
    """A few bytes of an archive can stand for gigabytes: none of it is unpacked."""
    body = bomb({"about": np.array("{}"), "x": np.zeros(100_000)})
    path = tmp_path / "a.checkpoint"
    path.write_bytes(b"ductfloor checkpoint 1\n" + hashlib.sha256(body).digest() + body)
    with pytest.raises(StoreError, match="is damaged"):
        read_checkpoint(path)
    keeper = KeptReductions(tmp_path)
    (keeper.folder() / "a.npz").write_bytes(body)
    assert keeper.get("a") is None


@pytest.mark.parametrize("name", ["pipe", "zero", "huge", "nothing", "folder"])
def test_what_lies_where_outcomes_and_reductions_are_kept(tmp_path, name, little_memory):
    """Whatever has the name of a kept file is as if it were not there, when it is none."""
    keeper = KeptReductions(tmp_path)
    folder = keeper.folder()
    for place in (folder / "a.npz", tmp_path / "a.json"):
        if name == "pipe":
            os.mkfifo(place)
        elif name == "folder":
            place.mkdir()
        elif name == "huge":
            with place.open("wb") as file:
                file.truncate(2**40)
        else:
            place.symlink_to("/dev/zero" if name == "zero" else "gone")
    assert keeper.get("a") is None
    assert KeptMembers(tmp_path).get("a") is None


OUTCOME = Outcome(dict.fromkeys(OUTPUTS, 1.5), seconds=2.0).as_dict()
NAME = "0" * 40


def found(folder, text: str) -> Outcome | None:
    (folder / f"{NAME}.json").write_text(text)
    return Runner(KeptMembers(folder))._found(Task(NAME, "", "", (), Span()))


def test_an_outcome_is_taken_up(tmp_path):
    kept = found(tmp_path, json.dumps({**OUTCOME, "fingerprint": NAME}))
    assert kept is not None
    assert kept.as_dict() == OUTCOME


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000, "{" * 100_000, "9" * 5000, "[]", "\\u0000", "",
        *(json.dumps({**OUTCOME, "fingerprint": NAME, **wrong}) for wrong in (
            {"seconds": 10**400}, {"seconds": "long"}, {"seconds": None}, {"values": 3}, {"values": [[1]]},
            {"error": {}}, {"fingerprint": 3},
            {"values": {**OUTCOME["values"], "lowest room": [1.0]}},
            {"values": {**OUTCOME["values"], "lowest room": {"a": 1}}},
            {"values": {**OUTCOME["values"], "lowest room": True}},
            {"values": {**OUTCOME["values"], "lowest room": 10**400}},
        )),
    ],
)  # fmt: skip
def test_an_outcome_that_is_none_is_worked_out_again(tmp_path, text):
    assert found(tmp_path, text) is None


SOUND = {
    "modes": np.ones((5, 2)), "rates": np.array([1e-6, 1e-5]), "error": np.array(0.01), "shifts": np.ones(3),
}  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        {"modes": np.ones((4, 2))}, {"modes": np.full((5, 2), np.inf)}, {"rates": np.array([1e-6, np.nan])},
        {"rates": np.array([[1e-6, 1e-5]])}, {"rates": np.array([-1.0, 1e-5])},
        {"error": np.array([1.0, 2.0])}, {"error": np.array(np.nan)}, {"shifts": np.array(3.0)},
        {"shifts": np.array([np.inf])},
        {"more": np.ones(1)},
    ],
)  # fmt: skip
def test_a_reduction_is_used_whole_or_not_at_all(wrong):
    assert reduction_of(SOUND, 5) is not None
    assert reduction_of({**SOUND, **wrong}, 5) is None


@pytest.mark.parametrize(
    "counts",
    [np.array(3), np.array([1, 2]), np.array([-1, 0, 0]), np.array([1.0, np.nan, 0.0]),
     np.array(["a", "b", "c"]), np.array([b"5", b"0", b"0"]), None],
)  # fmt: skip
def test_counts_that_count_nothing(tmp_path, counts):
    part = tmp_path / "a.h5.part"
    with h5py.File(part, "w") as file:
        file["rows_written"], file["field_rows_written"] = 5, 1
    arrays = {} if counts is None else {"writer.counts": counts}
    with pytest.raises(StoreError, match="holds less than its checkpoint says"):
        check_counts(part, arrays)
    check_counts(part, {"writer.counts": np.array([7, 5, 1])})


ENDS = np.array([-60, 0, 60, 120, 180, 240])
DUES = np.array([3, 5])  # rows at 0, 120 and 240


@pytest.mark.parametrize(
    ("place", "tick"),
    [((0, 0, 0), -120), ((1, 1, 0), -60), ((1, 2, 0), 0), ((2, 3, 0), 60), ((2, 4, 1), 120),
     ((3, 6, 2), 240)],
)
def test_a_place_in_a_run(place, tick):
    check_place(Place(*place), tick, -120, ENDS, DUES)


@pytest.mark.parametrize(
    ("place", "tick"),
    [((0, -1, 0), 240), ((0, 7, 2), 240), ((0, 2**62, 2), 240), ((-1, 4, 1), 120), ((2, 4, 0), 120),
     ((2, 4, 2), 120), ((2, 4, -1), 120), ((2, 4, 1), 180), ((0, 0, 0), 0), ((0, 4, 1), 2**62)],
)  # fmt: skip
def test_a_place_that_is_none(place, tick):
    """Whoever forges a checkpoint and seals it gets a message, not a run that never ends."""
    with pytest.raises(StoreError, match="does not fit together"):
        check_place(Place(*place), tick, -120, ENDS, DUES)
