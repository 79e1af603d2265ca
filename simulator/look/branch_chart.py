"""Air and wall along one branch, with the stretches where the wall is wet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import blended_transform_factory
from numpy.typing import NDArray

from simulator.look.bands import BOTTOM, LEFT, RIGHT, frame
from simulator.look.line_labels import LineEnd, draw_line, end_of, write_at_ends
from simulator.look.scales import LENGTH, TEMPERATURE, FloatArray, Units, length_text, pair_across, pair_up
from simulator.look.theme import COLOURS, FAINT, LINE_STYLES, MUTED, SIZE_NOTE, new_figure
from simulator.look.time_axis import with_room_at_right, write_numbers
from simulator.look.wording import add_heading, fit, heading_height, text_width

__all__ = ["Along", "Course", "draw_branch", "stretches"]

NAME_ROOM = 2.95  # [in] for names at the ends of lines
CHART = 4.2  # [in]
WET_ROW = 0.27  # [in]
WET_GAP = 0.12
DRY = "#efefef"
TOUCHING = 1e-6  # [m] segments nearer than this follow each other without a bend between them
POUND = 0.45359237  # [kg], exact: international yard and pound agreement, 1959


@dataclass(frozen=True, eq=False)
class Along:
    """Places along a branch, in the order of the air; G segments.

    Attributes
    ----------
    begin, end : (G,) float [m]
        Distance of each segment's ends from the branch's entrance. A segment may begin beyond the end of the
        one before: bends and pipe outside the floor lie between.
    run : (G,) int
        Number of the run, from 0, that each segment belongs to.
    """

    begin: FloatArray
    end: FloatArray
    run: NDArray[np.int64]

    @property
    def middle(self) -> FloatArray:
        """Middle of every segment [m]."""
        return (self.begin + self.end) / 2.0

    @property
    def ends(self) -> FloatArray:
        """Both ends of every segment [m], (2 G,)."""
        return np.column_stack([self.begin, self.end]).ravel()

    @property
    def turns(self) -> FloatArray:
        """Where one run ends and the next begins [m]: the middle of what lies between."""
        after = np.flatnonzero(np.diff(self.run))
        return (self.end[after] + self.begin[after + 1]) / 2.0


@dataclass(frozen=True, eq=False)
class Course:
    """What holds along a branch at one moment.

    Attributes
    ----------
    label : str
        The moment, in words.
    air : (2, G) float [degC]
        Air entering and leaving every segment; NaN when no air moves.
    wall : (G,) float [degC]
    wet : (G,) bool or None
        Where the wall is wet; None when that is not computed.
    water : (G,) float [kg/m] or None
        Water held in each segment; None when that is not computed.
    """

    label: str
    air: FloatArray
    wall: FloatArray
    wet: NDArray[np.bool_] | None = None
    water: FloatArray | None = None

    @property
    def flowing(self) -> bool:
        """Whether air moves."""
        return bool(np.isfinite(self.air).any())


def stretches(along: Along, holds: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Begin and length [m] of the stretches in which something holds, joined where segments touch."""
    found: list[tuple[float, float]] = []
    for segment in np.flatnonzero(holds).tolist():
        begin, end = float(along.begin[segment]), float(along.end[segment])
        if found and begin - sum(found[-1]) < TOUCHING:
            found[-1] = (found[-1][0], end - found[-1][0])
        else:
            found.append((begin, end - begin))
    return found


def draw_branch(
    along: Along,
    courses: Sequence[Course],
    title: str,
    lines: Sequence[str],
    units: Units,
    *,
    stream: str = "air",
    figure: Figure | None = None,
) -> Figure:
    """Draw air and wall along a branch at several moments, and below them where the duct is wet.

    Parameters
    ----------
    along : Along
    courses : sequence of Course
        One for each moment, up to seven.
    title : str
    lines : sequence of str
        Written below the title.
    units : {"SI", "US"}
        The system on the left and below.
    stream : str
        What moves in the branch.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure
    """
    damp = [course for course in courses if course.wet is not None]
    strip = WET_ROW * len(damp) + WET_GAP if damp else 0.0
    top = heading_height(len(lines)) + 0.85
    sheet = new_figure(top + CHART + strip + BOTTOM, figure)
    wide, tall = map(float, sheet.get_size_inches())
    width = (wide - LEFT - RIGHT) / wide
    axes = sheet.add_axes((LEFT / wide, (BOTTOM + strip) / tall, width, 1.0 - (top + BOTTOM + strip) / tall))
    axes.grid(visible=True, axis="y")
    axes.set_axisbelow(True)
    first, last = float(along.begin[0]), float(along.end[-1])
    data_end = with_room_at_right(axes, first, last, NAME_ROOM)
    ends: list[LineEnd | None] = []
    for course, colour, style in zip(courses, COLOURS, LINE_STYLES, strict=False):
        _draw_wall(axes, along, course, colour)
        said = f"{course.label}, wall" if course.flowing else f"{course.label}, wall, no flow"
        ends.append(end_of(said, along.middle, course.wall, colour))
        if course.flowing:
            air = course.air.T.ravel()
            draw_line(axes, along.ends, air, colour, style, name=stream)
            ends.append(end_of(f"{course.label}, {stream}", along.ends, air, colour))
    frame(axes, [part for course in courses for part in (course.air, course.wall)])
    _mark_turns(axes, along)
    pair_up(axes, TEMPERATURE, "temperature", units=units)
    below = axes
    if damp:
        below = sheet.add_axes((LEFT / wide, BOTTOM / tall, width, (strip - WET_GAP) / tall), sharex=axes)
        looks = zip(courses, COLOURS, strict=False)
        colours = [colour for course, colour in looks if course.wet is not None]
        _draw_wet(below, along, damp, colours, units, data_end)
        axes.tick_params(axis="x", bottom=False, labelbottom=False)
    _measure(axes, below, last, first, units)
    write_at_ends(axes, ends, data_end, NAME_ROOM)
    add_heading(sheet, title, list(lines))
    return sheet


def _draw_wall(axes: Axes, along: Along, course: Course, colour: str) -> None:
    """Dots at the middles of the segments, filled where the wall is wet."""
    wet = np.zeros(course.wall.shape, dtype=bool) if course.wet is None else course.wet
    for chosen, face, name in ((~wet, "white", "wall"), (wet, colour, "wet wall")):
        axes.plot(
            along.middle[chosen], course.wall[chosen], color=colour, linestyle="none", gid=name,
            marker="o", markersize=4.5, markerfacecolor=face, markeredgewidth=1.3,
        )  # fmt: skip


def _mark_turns(axes: Axes, along: Along) -> None:
    """Draw a thin upright line where the air turns into its next run, and count the runs above."""
    turns = along.turns
    for turn in turns.tolist():
        axes.axvline(turn, color=MUTED, linewidth=0.8, dashes=(4.0, 3.0), zorder=0.8, gid="turn")
    if not turns.size:
        return
    marks = np.concatenate([[along.begin[0]], turns, [along.end[-1]]])
    place = blended_transform_factory(axes.transData, axes.transAxes)
    per_metre = float(np.diff(axes.transData.transform([(0.0, 0.0), (1.0, 0.0)])[:, 0])[0]) / axes.figure.dpi
    for number, (begin, end) in enumerate(itertools.pairwise(marks), start=1):
        for words in (f"run {number}", str(number)):
            if text_width(words, SIZE_NOTE) + 0.06 < (end - begin) * per_metre:
                axes.text(
                    (begin + end) / 2.0, 0.985, words, transform=place, ha="center", va="top",
                    fontsize=SIZE_NOTE, color=MUTED, gid="run",
                )  # fmt: skip
                break


def _draw_wet(
    axes: Axes, along: Along, damp: Sequence[Course], colours: Sequence[str], units: Units, data_end: float
) -> None:
    """Draw one row for each moment: grey where the duct is dry, in the moment's colour where it is wet."""
    axes.set_ylim(len(damp), 0.0)
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.spines["bottom"].set_visible(True)
    everywhere = np.ones(along.begin.shape, dtype=bool)
    lengths = along.end - along.begin
    gap = 0.06 * float(np.diff(axes.get_xlim())[0]) / axes.get_position().width / 12.0
    for row, (course, colour) in enumerate(zip(damp, colours, strict=True)):
        wet = np.asarray(course.wet, dtype=bool)
        axes.broken_barh(stretches(along, everywhere), (row + 0.2, 0.6), color=DRY, linewidth=0.0, gid="duct")
        axes.broken_barh(stretches(along, wet), (row + 0.2, 0.6), color=colour, linewidth=0.0, gid="wet")
        words = f"{course.label}, dry"
        if wet.any():
            length = length_text(float(lengths[wet].sum()), units=units, both=False, decimals=1)
            words = f"{course.label}, {length} wet"
            if course.water is not None:
                words += f", {_mass(float((course.water * lengths).sum()), units)}"
        axes.text(
            data_end + 2.0 * gap, row + 0.5, fit(words, NAME_ROOM - 0.1, SIZE_NOTE), ha="left", va="center",
            fontsize=SIZE_NOTE, color=colour, gid="wet words", parse_math=False,
        )  # fmt: skip
    axes.text(
        -0.008, 0.5, "wet", transform=axes.transAxes, ha="right", va="center", fontsize=SIZE_NOTE, color=MUTED
    )
    for turn in along.turns.tolist():
        axes.axvline(turn, color=FAINT, linewidth=0.8, dashes=(4.0, 3.0), zorder=0.8)


def _mass(kilograms: float, units: Units) -> str:
    return f"{kilograms:.2g} kg" if units == "SI" else f"{kilograms / POUND:.2g} lb"


def _measure(axes: Axes, below: Axes, last: float, first: float, units: Units) -> None:
    """Write metres and feet along the branch: the system asked for under everything, the other one on top."""
    word = "along the branch, from its entrance"
    if below is axes:
        second = pair_across(axes, LENGTH, word, units=units)
        write_numbers(axes, last, first)
        write_numbers(second, float(LENGTH.to_us(last)), float(LENGTH.to_us(first)))
        return
    parts: tuple[tuple[Axes, Literal["bottom", "top"], str], ...] = (
        (below, "bottom", LENGTH.si if units == "SI" else LENGTH.us),
        (axes, "top", LENGTH.us if units == "SI" else LENGTH.si),
    )
    for part, side, scale in parts:
        # The axes share their data, which are in metres: feet need an axis of their own.
        part.tick_params(axis="x", bottom=False, labelbottom=False, top=False, labeltop=False)
        in_feet = scale == LENGTH.us
        own = part.secondary_xaxis(side, functions=LENGTH.functions if in_feet else None)
        own.set_xlabel(f"{word} [{scale}]")
        to = LENGTH.to_us if in_feet else np.asarray
        write_numbers(own, float(to(last)), float(to(first)))
