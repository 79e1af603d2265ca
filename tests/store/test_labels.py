"""Unit and name of a dataset are what the file library's upper layer would have written."""

from __future__ import annotations

import h5py
import numpy as np
import pytest
from h5py import h5a

from simulator.store.entry import Entry
from simulator.store.labels import label


@pytest.mark.parametrize("words", ["degC", "", "W/(m2 K)", "m³ of air, 20 °C – ½", "a" * 5000])
def test_as_attributes_of_the_upper_layer(words, tmp_path) -> None:
    with h5py.File(tmp_path / "a.h5", "w") as file:
        ours, theirs = (file.create_dataset(name, data=np.zeros(2)) for name in ("ours", "theirs"))
        label(ours, Entry("ours", ("time",), words, "f8", f"name of {words}"))
        theirs.attrs["units"] = words
        theirs.attrs["long_name"] = f"name of {words}"
    with h5py.File(tmp_path / "a.h5") as file:
        assert dict(file["ours"].attrs) == dict(file["theirs"].attrs)
        for name in ("units", "long_name"):
            kinds = [h5a.open(file[each].id, name.encode()) for each in ("ours", "theirs")]
            assert kinds[0].get_type().equal(kinds[1].get_type())
            assert kinds[0].get_type().get_cset() == h5py.h5t.CSET_UTF8
            assert kinds[0].shape == kinds[1].shape == ()
