"""Section and plan over time as moving pictures, on one fixed colour scale each."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from numpy.typing import NDArray
from PIL import Image

from simulator.errors import DuctfloorError
from simulator.look.branches import branch_air, read_branches
from simulator.look.colour_bar import draw_colour_bar
from simulator.look.line_labels import draw_line
from simulator.look.maps import shown_depth
from simulator.look.picking import When, instants, pick_station, pick_time, row_of, shown_units
from simulator.look.scales import (
    LENGTH,
    TEMPERATURE,
    Units,
    length_text,
    pair_up,
    temperature_text,
)
from simulator.look.scene import material_outlines, read_scene
from simulator.look.theme import COLOUR_MAP, COLOURS, INK, LINE_STYLES, MUTED, SIZE_NOTE, themed
from simulator.look.time_axis import as_days, write_dates
from simulator.look.wording import fit, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from matplotlib.axes import Axes

    from simulator.look.scales import FloatArray
    from simulator.store.reader import Results

__all__ = ["Movie", "movie_of", "save_movie"]

WIDE: Final = 9.6  # [in]
DOTS: Final = 80.0
LEFT, RIGHT, GAP, BAR = 0.85, 0.85, 0.72, 0.62  # [in]
HEADING: Final = 1.05
STRIP: Final = 1.15
AIR, FOOT = 0.3, 0.45
TALLEST: Final = 2.6
BESIDE: Final = 0.8
BEYOND: Final = 0.002
LEAST_SPAN: Final = 1.0
MOST_FRAMES: Final = 600
SHADES: Final = 200
GREYS: Final = 28

Frame = NDArray[np.uint8]
_COURSES: Final = (
    ("room", "room_temperature"),
    ("floor", "floor_mean_temperature"),
    ("outside", "outside_temperature"),
)


@dataclass(frozen=True, eq=False)
class Movie:
    """Moving pictures, drawn one by one when asked for.

    Attributes
    ----------
    count : int
    size : (int, int)
        Width and height of a frame.
    ranges : dict of str to (float, float) [degC]
        Of the colours of section and plan, the same in every frame.
    frame : callable
        Draws a frame by its number, from 0: (height, width, 3).
    """

    count: int
    size: tuple[int, int]
    ranges: dict[str, tuple[float, float]]
    frame: Callable[[int], Frame]

    def frames(self) -> Iterator[Frame]:
        """Draw all frames, first to last."""
        for number in range(self.count):
            yield self.frame(number)


@themed
def movie_of(
    results: Results,
    station: float | None = None,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
) -> Movie:
    """Make section and plan ready to be drawn over time.

    Parameters
    ----------
    results : Results
    station : int or float, optional
        Where the section is cut, as for `section_map`; the middle when left out.
    begin, end : int, str, datetime or datetime64
        First and last map.
    units : {"SI", "US"}, optional
        The system that comes first; that of the case when left out.

    Returns
    -------
    Movie

    Raises
    ------
    DuctfloorError
        When there are fewer than two maps in that time, or no such station.
    """
    shown = shown_units(results, units)
    first, last = pick_time(results, begin), pick_time(results, end)
    fields = np.arange(first, last + 1)
    if fields.size < 2:
        raise DuctfloorError("a movie needs two maps of the ground or more; choose a longer time")
    if fields.size > MOST_FRAMES:
        fields = np.unique(np.linspace(first, last, MOST_FRAMES).round().astype(int))
    count = int(np.asarray(results.read("station")).size)
    here = count // 2 if station is None else pick_station(results, station)
    return _Studio(results, fields.tolist(), here, shown).movie()


class _Studio:
    """The figure of all frames, and what changes in it."""

    def __init__(self, results: Results, fields: list[int], station: int, units: Units) -> None:
        self.results, self.fields, self.station, self.units = results, fields, station, units
        self.rows = [row_of(results, field) for field in fields]
        self.scene = read_scene(results)
        self.depth = shown_depth(self.scene)
        half = self.scene.floor_half_width + BESIDE * self.depth
        edges = self.scene.across_edges
        self.across = max(-half, float(edges[0])), min(half, float(edges[-1]))
        self.ranges = self._ranges()
        self._lay_out()

    def _ranges(self) -> dict[str, tuple[float, float]]:
        scene = self.scene
        seen = np.ix_(
            scene.depth_edges[:-1] < self.depth,
            (scene.across_edges[1:] > self.across[0]) & (scene.across_edges[:-1] < self.across[1]),
        )
        grounds = [self._ground(field)[seen] for field in self.fields]
        return {"section": _range(grounds), "plan": _range([self._floor(field) for field in self.fields])}

    def _ground(self, field: int) -> FloatArray:
        return np.asarray(self.results.read("ground_temperature", field)[self.station], dtype=np.float64)

    def _floor(self, field: int) -> FloatArray:
        return np.asarray(self.results.read("floor_surface_temperature", field), dtype=np.float64).T

    def _lay_out(self) -> None:
        scene, room = self.scene, WIDE - LEFT - RIGHT
        along, across = scene.along_edges, scene.floor_across_edges
        section = min(room * self.depth / (self.across[1] - self.across[0]), TALLEST)
        plan = min(room * float(np.ptp(across)) / float(np.ptp(along)), TALLEST)
        height = HEADING + section + plan + STRIP + 2.0 * (BAR + GAP) + AIR + FOOT
        # Even numbers of dots, as video wants them.
        height = 2.0 * round(height * DOTS / 2.0) / DOTS
        self.figure = Figure(figsize=(WIDE, height), dpi=DOTS, facecolor="white")
        self.canvas = FigureCanvasAgg(self.figure)
        top = height - HEADING
        self.section_axes = self._box(top - section, section)
        bar_top = top - section - GAP
        self.section_mesh = self._paint(
            self.section_axes, (scene.across_edges, scene.depth_edges), "section", bar_top, "ground and air"
        )
        self.section_axes.set_xlim(*self.across)
        self.section_axes.set_ylim(self.depth, 0.0)
        pair_up(self.section_axes, LENGTH, "depth", units=self.units)
        self._across_label(self.section_axes, "across, from the middle of the floor")
        inner, outer = material_outlines(scene)
        for lines, width, colour in ((inner, 0.7, "white"), (outer, 1.3, INK)):
            self.section_axes.add_collection(
                LineCollection(lines, colors=colour, linewidths=width, zorder=2.0), autolim=False
            )
        self.circles = self._circles()
        top = bar_top - BAR - AIR / 2.0
        self.plan_axes = self._box(top - plan, plan)
        bar_top = top - plan - GAP
        self.plan_mesh = self._paint(self.plan_axes, (along, across), "plan", bar_top, "floor surface")
        pair_up(self.plan_axes, LENGTH, "across", units=self.units)
        self._across_label(self.plan_axes, "along the floor, from its start")
        for branch in read_branches(self.results):
            for place, begin, end in zip(
                branch.route.across, branch.route.begin, branch.route.end, strict=True
            ):
                self.plan_axes.plot(
                    [begin, end], [place] * 2, color="white", linewidth=1.2, dashes=(6.0, 4.0)
                )
        self._strip(bar_top - BAR - AIR / 2.0 - STRIP)
        title = str(self.results.attrs.get("title", ""))
        self.figure.text(
            LEFT / WIDE, 1.0 - 0.16 / height, fit(title, WIDE - LEFT - 0.2, 13.0, bold=True), fontsize=13.0,
            fontweight="bold", va="top", parse_math=False,
        )  # fmt: skip
        self.stamp = self.figure.text(
            LEFT / WIDE, 1.0 - 0.48 / height, "", fontsize=15.0, va="top", color=INK
        )
        place = length_text(float(self.results.read("station", self.station)), units=self.units)
        self.note = f"section {place} from the floor's start"
        self.state = self.figure.text(
            1.0 - 0.2 / WIDE, 1.0 - 0.52 / height, "", fontsize=10.0, va="top", ha="right", color=MUTED
        )

    def _box(self, bottom: float, height: float) -> Axes:
        wide, tall = map(float, self.figure.get_size_inches())
        return self.figure.add_axes((LEFT / wide, bottom / tall, (wide - LEFT - RIGHT) / wide, height / tall))

    def _paint(
        self, axes: Axes, edges: tuple[FloatArray, FloatArray], name: str, bar_top: float, words: str
    ) -> mpl.collections.QuadMesh:
        colours = mpl.colormaps[COLOUR_MAP], Normalize(*self.ranges[name])
        values = np.full((edges[1].size - 1, edges[0].size - 1), np.nan)
        mesh = axes.pcolormesh(*edges, values, cmap=colours[0], norm=colours[1], rasterized=True, zorder=1.0)
        draw_colour_bar(
            self.figure, (LEFT + 1.35, bar_top - BAR - 0.05, WIDE - LEFT - RIGHT - 1.55), colours, "",
            self.units, (True, True),
        )  # fmt: skip
        wide, tall = map(float, self.figure.get_size_inches())
        height = (bar_top - BAR + 0.375) / tall
        self.figure.text(LEFT / wide, height, words, fontsize=SIZE_NOTE, color=MUTED, va="center")
        return mesh

    def _across_label(self, axes: Axes, words: str) -> None:
        # One scale of the two: there is no room for both between the pictures.
        if self.units == "SI":
            axes.set_xlabel(f"{words} [m]", labelpad=1.0, fontsize=SIZE_NOTE)
            return
        axes.tick_params(axis="x", bottom=False, labelbottom=False)
        second = axes.secondary_xaxis("bottom", functions=LENGTH.functions)
        second.set_xlabel(f"{words} [ft]", labelpad=1.0, fontsize=SIZE_NOTE)

    def _circles(self) -> list[tuple[Circle, FloatArray]]:
        found = []
        for branch in read_branches(self.results):
            air = np.stack([branch_air(self.results, branch, row).mean(axis=0) for row in self.rows])
            for segment in np.flatnonzero(branch.station == self.station).tolist():
                run = int(branch.along.run[segment])
                place = float(branch.route.across[run]), float(branch.route.depth[run])
                circle = Circle(place, branch.inside_radius, edgecolor="white", linewidth=1.0, zorder=3.0)
                self.section_axes.add_patch(circle)
                found.append((circle, air[:, segment]))
        return found

    def _strip(self, bottom: float) -> None:
        """Room, floor and outside over the time shown, with a line where the frame is."""
        self.strip = self._box(bottom, STRIP)
        rows = slice(self.rows[0], self.rows[-1] + 1)
        days = as_days(instants(self.results)[rows])
        self.days = as_days(instants(self.results)[np.array(self.rows)])
        for (name, dataset), colour, style in zip(_COURSES, COLOURS, LINE_STYLES, strict=False):
            values = np.asarray(self.results.read(dataset, rows), dtype=np.float64)
            draw_line(self.strip, days, values, colour, style, name=name)
            self.strip.lines[-1].set_label(name)
        self.strip.set_xlim(float(days[0]), float(days[-1]))
        self.strip.legend(loc="upper right", fontsize=8.0, ncols=3, framealpha=0.85, borderpad=0.3)
        pair_up(self.strip, TEMPERATURE, "", units=self.units)
        write_dates(self.strip, float(days[0]), float(days[-1]))
        self.cursor = self.strip.axvline(float(days[0]), color=INK, linewidth=1.6)

    def movie(self) -> Movie:
        width, height = self.canvas.get_width_height()
        return Movie(len(self.fields), (width, height), self.ranges, self._frame)

    @themed
    def _frame(self, number: int) -> Frame:
        field, row = self.fields[number], self.rows[number]
        self.section_mesh.set_array(np.ma.masked_invalid(self._ground(field)))
        self.plan_mesh.set_array(np.ma.masked_invalid(self._floor(field)))
        colours, limits = mpl.colormaps[COLOUR_MAP], Normalize(*self.ranges["section"])
        for circle, air in self.circles:
            warmth = float(air[number])
            circle.set_facecolor(colours(float(limits(warmth))) if np.isfinite(warmth) else "white")
        self.cursor.set_xdata([float(self.days[number])] * 2)
        self.stamp.set_text(moment_text(self.results.field_time[field]))
        room, outside = (
            temperature_text(float(self.results.read(name, row)), units=self.units)
            for name in ("room_temperature", "outside_temperature")
        )
        fan = "on" if float(self.results.read("mass_flow", row)) > 0.0 else "off"
        self.state.set_text(f"room {room}, outside {outside}, fan {fan}\n{self.note}")
        self.canvas.draw()  # type: ignore[no-untyped-call]
        return np.asarray(self.canvas.buffer_rgba())[:, :, :3].copy()  # type: ignore[no-untyped-call]


def _range(values: Sequence[FloatArray]) -> tuple[float, float]:
    known = np.concatenate([part[np.isfinite(part)].ravel() for part in values])
    low, high = np.quantile(known, (BEYOND, 1.0 - BEYOND)).tolist()
    lacking = max(LEAST_SPAN - (high - low), 0.0) / 2.0
    return low - lacking, high + lacking


def save_movie(
    movie: Movie, path: Path, *, per_second: float = 6.0, progress: Callable[[float], None] | None = None
) -> Path:
    """Write moving pictures as GIF or, through ffmpeg, as MP4; whole or not at all.

    Parameters
    ----------
    movie : Movie
    path : Path
        Ends in `.gif` or `.mp4`. An existing file is replaced.
    per_second : float
        Frames for each second.
    progress : callable, optional
        Told the share that is done.

    Returns
    -------
    Path

    Raises
    ------
    DuctfloorError
        When the ending is another one, ffmpeg is missing or fails, or the file cannot be written.
    """
    kind = path.suffix.lower()
    if kind not in (".gif", ".mp4"):
        raise DuctfloorError(
            f"{path}: a movie is written as .gif or .mp4; try {path.with_suffix('.gif').name}"
        )
    part = path.with_name(path.name + ".part")
    try:
        if kind == ".gif":
            _write_gif(movie, part, per_second, progress)
        else:
            _write_mp4(movie, part, per_second, progress)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        raise DuctfloorError(
            f"{path}: the movie cannot be written: {problem.strerror or problem}"
        ) from problem
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return path


def _write_gif(movie: Movie, part: Path, per_second: float, progress: Callable[[float], None] | None) -> None:
    # One palette for all frames: colours must not change their meaning.
    palette = Image.new("P", (1, 1))
    palette.putpalette(_palette().tobytes())
    pictures = []
    for number, frame in enumerate(movie.frames()):
        pictures.append(Image.fromarray(frame).quantize(palette=palette, dither=Image.Dither.NONE))
        if progress is not None:
            progress((number + 1) / movie.count)
    # The last frame stays a while before the movie begins anew.
    step = round(1000.0 / per_second)
    lengths = [step] * (movie.count - 1) + [max(step, 2000)]
    with part.open("wb") as file:
        pictures[0].save(
            file, "GIF", save_all=True, append_images=pictures[1:], duration=lengths, loop=0, optimize=False
        )


def _palette() -> Frame:
    """(N, 3) colours of a GIF: the scale of temperatures, greys for letters, and lines with their edges."""
    scale = mpl.colormaps[COLOUR_MAP](np.linspace(0.0, 1.0, SHADES))[:, :3]
    greys = np.repeat(np.linspace(0.0, 1.0, GREYS)[:, None], 3, axis=1)
    lines = np.array([mpl.colors.to_rgb(colour) for colour in COLOURS[: len(_COURSES)]])
    tints = np.concatenate([lines + (1.0 - lines) * part for part in (0.0, 0.25, 0.5, 0.75)])
    return np.rint(np.vstack([scale, greys, tints]) * 255.0).astype(np.uint8)


def _write_mp4(movie: Movie, part: Path, per_second: float, progress: Callable[[float], None] | None) -> None:
    program = shutil.which("ffmpeg")
    if program is None:
        raise DuctfloorError(
            f"{part.with_suffix('')}: writing .mp4 needs the program ffmpeg, which is not on this machine; "
            "install it, or write .gif"
        )
    width, height = movie.size
    command = [
        program, "-loglevel", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}",
        "-r", f"{per_second:g}", "-i", "-", "-an", "-pix_fmt", "yuv420p", "-movflags", "+faststart",
        "-f", "mp4", str(part),
    ]  # fmt: skip
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        if process.stdin is None or process.stderr is None:
            raise DuctfloorError("ffmpeg cannot be spoken to")
        try:
            for number, frame in enumerate(movie.frames()):
                process.stdin.write(frame.tobytes())
                if progress is not None:
                    progress((number + 1) / movie.count)
            process.stdin.close()
        except BrokenPipeError:
            pass
        said = process.stderr.read().decode(errors="replace").strip()
    if process.returncode != 0:
        raise DuctfloorError(
            f"ffmpeg could not write the movie: {said.splitlines()[-1] if said else 'no reason'}"
        )
