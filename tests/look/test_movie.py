"""Moving pictures: one colour scale, a time stamp, the right number of frames, and clear refusals."""

from __future__ import annotations

import shutil
import subprocess

import numpy as np
import pytest
from PIL import Image

from simulator.errors import DuctfloorError
from simulator.look import movie as module
from simulator.look.movie import movie_of, save_movie
from tests.look.made_up import Shape, make_results


@pytest.fixture(scope="module")
def results():
    with make_results(Shape(hours=12.0, rows_per_hour=2.0, maps=5)) as made:
        yield made


@pytest.fixture(scope="module")
def movie(results):
    return movie_of(results)


def test_every_map_is_a_frame_of_even_size(movie) -> None:
    assert movie.count == 5
    assert movie.size[0] % 2 == 0
    assert movie.size[1] % 2 == 0
    for frame in movie.frames():
        assert frame.shape == (movie.size[1], movie.size[0], 3)


def test_frames_differ_where_the_ground_does(movie) -> None:
    first, last = movie.frame(0).astype(int), movie.frame(4).astype(int)
    assert (np.abs(first - last).max(axis=2) > 12).mean() > 0.05


def test_the_colour_bars_never_change(movie) -> None:
    # of the rows that show the scale of colours, every frame has the same
    frames = [movie.frame(number) for number in range(movie.count)]
    same = np.all([frame == frames[0] for frame in frames], axis=(0, 3))
    colourful = frames[0].std(axis=2) > 25
    rows = np.flatnonzero((same & colourful).sum(axis=1) > 0.5 * movie.size[0])
    assert rows.size >= 10


def test_the_range_holds_all_but_the_outermost(results, movie) -> None:
    low, high = movie.ranges["plan"]
    floors = results["floor_surface_temperature"].values
    outside = (floors < low - 1e-6) | (floors > high + 1e-6)
    assert outside.mean() <= 0.005
    assert low == pytest.approx(floors.min(), abs=0.05 * (high - low))
    assert high == pytest.approx(floors.max(), abs=0.05 * (high - low))


def test_a_gif_has_all_frames_and_says_how_long_each_stays(movie, tmp_path) -> None:
    path = save_movie(movie, tmp_path / "x.gif", per_second=4.0)
    with Image.open(path) as picture:
        assert picture.n_frames == 5
        assert picture.info["loop"] == 0
        assert picture.info["duration"] == 250
        picture.seek(4)
        assert picture.info["duration"] == 2000
        shown = np.asarray(picture.convert("RGB")).astype(int)
    # a palette of few colours stays near to the frame drawn
    assert np.abs(shown - movie.frame(4).astype(int)).mean() < 4.0
    assert not list(tmp_path.glob("*.part"))


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="no ffmpeg on this machine")
def test_an_mp4_has_all_frames(movie, tmp_path) -> None:
    path = save_movie(movie, tmp_path / "x.mp4", per_second=5.0)
    told = subprocess.run(
        ["ffprobe", "-v", "error", "-count_frames", "-select_streams", "v", "-show_entries",
         "stream=nb_read_frames,width,height", "-of", "csv=p=0", str(path)],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert told.strip() == f"{movie.size[0]},{movie.size[1]},5"


def test_without_ffmpeg_that_is_said(movie, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(module.shutil, "which", lambda name: None)
    with pytest.raises(DuctfloorError, match="needs the program ffmpeg"):
        save_movie(movie, tmp_path / "x.mp4")
    assert not list(tmp_path.iterdir())


def test_other_endings_are_refused(movie, tmp_path) -> None:
    with pytest.raises(DuctfloorError, match=r"\.gif or \.mp4; try x\.gif"):
        save_movie(movie, tmp_path / "x.avi")


def test_one_map_is_no_movie() -> None:
    with (
        make_results(Shape(hours=12.0, rows_per_hour=2.0, maps=1)) as made,
        pytest.raises(DuctfloorError, match="needs two maps"),
    ):
        movie_of(made)


def test_a_hostile_title_is_only_text() -> None:
    with make_results(Shape(title=r"$\frac{1}{$ <b>", hours=6.0, rows_per_hour=1.0, maps=2)) as made:
        assert movie_of(made, units="US").frame(1).std() > 0.0
