"""Pictures of a season's charts, all carcasses of each, as PNG files: needs matplotlib (extra `pictures`)."""

from __future__ import annotations

import re
import textwrap
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

from handsfree.errors import EngineUnavailableError, ReportError
from handsfree.reconciliation.season import Season, Watched
from handsfree.reconciliation.season_figures import Doubt
from handsfree.reconciliation.watch import Watch
from handsfree.reporting.palette import INK, MUTED, OXBLOOD, PAPER, RULE, fill_of
from handsfree.reporting.season_terminal import destinations, group_name
from handsfree.reporting.season_words import TITLES, caption_of, name_of

_DPI = 110


def draw_season(season: Season, folder: Path, zone: tzinfo) -> list[Path]:
    """Write one picture of each watched figure with enough carcasses, and one of where it went.

    Returns:
        The files written, in order.

    Raises:
        EngineUnavailableError: matplotlib is not installed.
        ReportError: The folder cannot be written to.
    """
    try:
        # Drawn straight to files: no window system is asked for.
        from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415
        from matplotlib.figure import Figure  # noqa: PLC0415
    except ImportError as error:
        raise EngineUnavailableError(
            "pictures need the library matplotlib, which is not installed",
            kept="the tables and the page need nothing more",
            next_step="pip install 'handsfree[pictures]', or use --page for a page with charts",
        ) from error

    def new(height_in: float) -> Any:
        figure = Figure(figsize=(10, height_in), dpi=_DPI, facecolor=PAPER)
        FigureCanvasAgg(figure)
        return figure

    folder = folder.expanduser().absolute()
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for watched in season.watched:
            if watched.watch is not None:
                figure = new(9)
                _charts(figure, season, watched, watched.watch, zone)
                written.append(_saved(figure, folder, f"{watched.figure.value} {name_of(watched)}"))
        if season.groups:
            figure = new(2.4 + 0.42 * min(len(season.groups), 24))
            _where_it_went(figure, season)
            written.append(_saved(figure, folder, f"where it went by {season.by.value}"))
    except OSError as error:
        raise ReportError(
            f"the pictures could not be written into {folder}: {error.strerror or error}",
            kept="the ledger is untouched",
            next_step="choose another folder or make room, then ask again",
        ) from error
    return written


def _saved(figure: Any, folder: Path, name: str) -> Path:
    path = folder / f"{re.sub(r'[^a-z0-9]+', '-', name.lower()).strip('-')}.png"
    figure.savefig(path, facecolor=PAPER)
    return path


def _charts(figure: Any, season: Season, watched: Watched, watch: Watch, zone: tzinfo) -> None:
    days = [_moment(season.figures.carcasses[place].carcass.closed_at, zone) for place in watched.places]
    judged = [days[place] for place in watch.order]
    axes = figure.subplots(4, 1, sharex=True, gridspec_kw={"height_ratios": [3, 1.2, 1.6, 1.6]})
    caption = caption_of(season, watched, zone)
    figure.suptitle(f"{TITLES[watched.figure]}: {name_of(watched)}", x=0.07, ha="left", weight="bold")
    told = " ".join(part for part in (caption.headline, caption.action) if part)
    figure.text(0.07, 0.945, "\n".join(textwrap.wrap(told, 118)), va="top", fontsize=9.5, color=OXBLOOD)
    single = axes[0]
    _points(single, season, watched, watch, days)
    _lines(
        single, 100 * watch.usual.centre, 100 * watch.individuals.lower[0], 100 * watch.individuals.upper[0]
    )
    single.set_ylabel("% of dressed\nweight")
    widest = 100 * watch.ranges.upper[0] if watch.ranges.upper else 0.0
    axes[1].plot(judged[1:], [100 * value for value in watch.ranges.values], color=INK, lw=0.5)
    _lines(axes[1], 100 * watch.ranges.centre, None, widest)
    axes[1].set_ylabel("to the one\nbefore, %")
    axes[2].plot(judged, [100 * value for value in watch.averages.values], color=INK, lw=0.9)
    _lines(axes[2], 100 * watch.usual.centre, None, None)
    for limits in (watch.averages.lower, watch.averages.upper):
        axes[2].plot(judged, [100 * value for value in limits], color=OXBLOOD, lw=0.8, ls="--")
    axes[2].set_ylabel("running\naverage, %")
    axes[3].plot(judged, watch.sums.above, color=INK, lw=0.9)
    axes[3].plot(judged, [-value for value in watch.sums.below], color=INK, lw=0.9)
    _lines(axes[3], 0.0, -watch.sums.limit, watch.sums.limit)
    axes[3].set_ylabel("running sums,\nst. dev.")
    for each in axes:
        _plain(each)
    figure.text(
        0.07, 0.015, "\n".join(textwrap.wrap(" ".join(caption.details), 150)), fontsize=8, color=MUTED
    )
    figure.subplots_adjust(left=0.1, right=0.985, top=0.875, bottom=0.125, hspace=0.16)


def _points(axis: Any, season: Season, watched: Watched, watch: Watch, days: list[datetime]) -> None:
    beyond, usual = set(watch.beyond), set(watch.usual.places)
    kinds: dict[str, list[int]] = {"in order": [], "usual": [], "stands out": [], "in doubt": []}
    for place, row in enumerate(watched.places):
        doubtful = season.figures.carcasses[row].doubt is not Doubt.NONE
        kind = "in doubt" if doubtful else "usual" if place in usual else "in order"
        kinds["stands out" if place in beyond else kind].append(place)
    size = 12 if len(days) < 1000 else 3
    looks = {
        "in order": {"c": INK},
        "usual": {"c": MUTED},
        "in doubt": {"facecolors": "none", "edgecolors": OXBLOOD},
        "stands out": {"c": OXBLOOD},
    }
    names = {"usual": "tells what is usual", "in doubt": "in doubt, used for no limit"}
    for kind, look in looks.items():
        if kinds[kind]:
            big = size * 2.2 if kind in {"in doubt", "stands out"} else size
            at = [days[place] for place in kinds[kind]]
            values = [100 * watch.values[place] for place in kinds[kind]]
            axis.scatter(at, values, s=big, lw=0.9, label=names.get(kind, kind), **look)
    axis.legend(loc="lower left", bbox_to_anchor=(0, 0.98), ncols=4, fontsize=8, frameon=False, borderpad=0)


def _where_it_went(figure: Any, season: Season) -> None:
    axis = figure.subplots()
    shown = season.groups[-24:]
    names = [group_name(season, group) for group in shown]
    left = [0.0] * len(shown)
    for place, to in enumerate(destinations(season)):
        wide = [100 * group.utilisation.get(to, 0.0) for group in shown]
        fill = fill_of(to, place) if to else RULE
        axis.barh(names, wide, left=left, color=fill, edgecolor=PAPER, label=to or "no destination")
        left = [one + more for one, more in zip(left, wide, strict=True)]
    axis.axvline(100, color=INK, lw=1)
    axis.invert_yaxis()
    axis.set_xlabel(
        "% of the dressed weight; what is left open went in cutting or is not accounted for.\n"
        "More to waste or stock than other rows: look at shot damage and at the knives there.",
        fontsize=9,
    )
    axis.legend(loc="upper center", bbox_to_anchor=(0.5, 1.0), ncols=7, fontsize=8, frameon=False)
    axis.set_ylim(len(shown) - 0.5, -1.1)
    figure.suptitle(f"Where it went, by {season.by.value}", x=0.07, ha="left", weight="bold")
    _plain(axis)
    figure.subplots_adjust(left=0.16, right=0.97, top=0.88, bottom=max(0.12, 0.75 / figure.get_figheight()))


def _lines(axis: Any, centre: float, lower: float | None, upper: float | None) -> None:
    axis.axhline(centre, color=MUTED, lw=0.9, ls=(0, (5, 4)))
    for limit in (lower, upper):
        if limit is not None:
            axis.axhline(limit, color=OXBLOOD, lw=0.8, ls="--")


def _plain(axis: Any) -> None:
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)
    axis.tick_params(labelsize=8.5)
    axis.yaxis.label.set_size(8.5)


def _moment(posted_at: str, zone: tzinfo) -> datetime:
    # Without its zone again: the axis shows this machine's days.
    try:
        return datetime.fromisoformat(posted_at).astimezone(zone).replace(tzinfo=None)
    except ValueError:
        return datetime.fromtimestamp(0, UTC).replace(tzinfo=None)
