"""A season on a terminal: readable at 80 columns, without colour, and through a pipe."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, tzinfo
from decimal import Decimal

from rich import box
from rich.console import Group as Lines
from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from handsfree.reconciliation.season import Group, Season
from handsfree.reporting.making import DESTINATION_ORDER
from handsfree.reporting.season_words import (
    CAUTIONS,
    TITLES,
    caption_of,
    doubts_in_words,
    name_of,
    period_in_words,
    sum_of_shares,
    where_to_look,
)
from handsfree.reporting.words import counted, fine_percent, kg, percent, plain

#: Two blanks between columns: one here, one is the box's own.
_PADDING = (0, 1, 0, 0)


def season_on_terminal(
    season: Season, *, since: date | None = None, until: date | None = None, zone: tzinfo, price_day: str = ""
) -> RenderableType:
    """The season as something a rich console prints; all text is literal, never console markup."""
    return Lines(*_blocks(season, since, until, zone, price_day))


def _blocks(
    season: Season, since: date | None, until: date | None, zone: tzinfo, price_day: str
) -> Iterable[RenderableType]:
    yield Text(period_in_words(season, since, until, zone), style="bold")
    if not season.figures.carcasses:
        yield Text("A carcass counts once it is closed (ledger close carcass, or handsfree amend close TAG).")
        return
    told = doubts_in_words(season)
    if told:
        yield Text(told)
    yield _groups(season)
    captions = [caption_of(season, watched, zone) for watched in season.watched]
    for watched, caption in zip(season.watched, captions, strict=True):
        yield Text(f"\n{name_of(watched)}: {TITLES[watched.figure].lower()}", style="bold")
        mark = "» " if caption.state == "act" else ""
        yield Text(f"{mark}{caption.headline}", style="bold" if caption.state == "act" else "")
        if caption.action:
            yield Padding(Text(caption.action), (0, 0, 0, 2))
        for detail in caption.details:
            yield Padding(Text(detail, style="dim"), (0, 0, 0, 2))
    where = where_to_look(season, captions)
    if where:
        yield Text(f"\n{where}", style="bold")
    yield _title("Where it went, % of the dressed weight")
    yield _utilisation(season)
    if season.portions:
        yield _title("Portions")
        yield _portions(season)
    if season.worths is not None:
        yield _title(f"Value by the price list of {price_day}, in {plain(season.worths.currency)}")
        yield _worth(season)
        yield from _unpriced(season)
    yield Text()
    for caution in CAUTIONS:
        yield Text(caution, style="dim")


def _title(text: str) -> Text:
    return Text(f"\n{text}", style="bold")


def _table(*heads: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=_PADDING)
    table.add_column(heads[0])
    for head in heads[1:]:
        table.add_column(head, justify="right", no_wrap=True)
    return table


def _groups(season: Season) -> Table:
    table = _table(season.by.value, "carcasses", "in doubt", "dressed kg", "not acc. for %", "meat %")
    for group in (*season.groups, season.whole):
        table.add_row(
            Text(group_name(season, group)),
            str(len(group.places)),
            str(group.doubtful or ""),
            kg(group.dressed_mg, 1),
            fine_percent(group.loss),
            percent(group.meat),
        )
    return table


def _utilisation(season: Season) -> Table:
    names = destinations(season)
    table = _table("to", *(group_name(season, group) for group in shown_groups(season)))
    for name in names:
        cells = (percent(group.utilisation.get(name)) for group in shown_groups(season))
        table.add_row(Text(plain(name) or "no destination"), *cells)
    sums = (sum_of_shares(group.utilisation.values()) for group in shown_groups(season))
    table.add_row("in all", *sums)
    return table


def _portions(season: Season) -> Table:
    table = _table("cut", "pieces", "mean g", "CV % within", "thickest : thinnest", "worst")
    for each in season.portions:
        table.add_row(
            Text(plain(each.cut)),
            str(each.pieces),
            f"{each.mean_mg / 1000:.0f}",
            percent(each.cv_within),
            "" if each.ratio is None else f"{each.ratio:.2f}",
            "" if each.worst_ratio is None else f"{each.worst_ratio:.2f} (#{each.worst})",
        )
    return table


def _worth(season: Season) -> Table:
    table = _table(season.by.value, "in all", "a carcass", "a kg dressed", "priced %")
    for group in (*season.groups, season.whole):
        worth = group.worth
        assert worth is not None
        count = len(group.places)
        table.add_row(
            Text(group_name(season, group)),
            money(worth.amount),
            money(worth.amount / count) if count else "",
            "" if worth.per_kg_dressed is None else money(worth.per_kg_dressed),
            percent(worth.priced_mg / worth.pieces_mg if worth.pieces_mg else None),
        )
    return table


def _unpriced(season: Season) -> Iterable[Text]:
    for line in unpriced_in_words(season):
        yield Text(line)


def unpriced_in_words(season: Season) -> list[str]:
    """What has no price, heaviest first; nothing when all has one."""
    if season.worths is None or not season.worths.unpriced_mg:
        return []
    rows = sorted(season.worths.unpriced_mg.items(), key=lambda row: -row[1])
    named = [
        f"{plain(cut) or 'unnamed'} for {plain(to) or 'no destination'} {kg(mass_mg, 1)} kg"
        for (cut, to), mass_mg in rows
    ]
    more = len(named) - 8
    told = "; ".join(named[:8]) + (f"; and {counted(more, 'other')}" if more > 0 else "")
    return [f"No price, so not in the value: {told}."]


def destinations(season: Season) -> list[str]:
    """The destinations there are, in the order of the sheet."""
    found = set(season.whole.utilisation)
    known = [name for name in DESTINATION_ORDER if name in found]
    return [*known, *sorted(found - {*known, ""}), *([""] if "" in found else [])]


def shown_groups(season: Season) -> tuple[Group, ...]:
    """The groups that a table has room for, newest last, and all together."""
    return (*season.groups[-4:], season.whole) if len(season.groups) > 1 else (season.whole,)


def group_name(season: Season, group: Group) -> str:
    """The name of a group, for a head."""
    if group is season.whole:
        return "all"
    return plain(group.name) or "not said"


def money(amount: Decimal) -> str:
    """An amount to the hundredth, half to even, for people."""
    return f"{round(amount, 2):,.2f}".replace(",", " ").replace("-", "−")
