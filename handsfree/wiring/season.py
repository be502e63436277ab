"""The season of a ledger by the settings: history, price list, rules."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from pathlib import Path

from handsfree.config import Config
from handsfree.errors import ConfigError, EntryError
from handsfree.ledger.digest import rfc3339
from handsfree.ledger.season_record import ClosedSeason
from handsfree.ledger.sqlite_store import read_ledger
from handsfree.reconciliation.price_list import PriceList, read_price_list
from handsfree.reconciliation.season import By, Figure, Season, SeasonRules, season_of
from handsfree.reconciliation.season_figures import figures_of_season
from handsfree.reconciliation.watch import Usual
from handsfree.reporting.season_pictures import draw_season
from handsfree.wiring import words

#: Kind of a cut, in the cut lists, that is a portion.
_PORTION = "small"


@dataclass(frozen=True, slots=True)
class Told:
    """A season with all that its page and tables say besides."""

    season: Season
    larder: str
    since: date | None
    until: date | None
    species: str
    prices: PriceList | None
    zone: tzinfo


def season(
    ledger: Path,
    config: Config,
    *,
    species: str = "",
    since: date | None = None,
    until: date | None = None,
    by: By = By.SPECIES,
    prices: Path | None = None,
) -> Told:
    """The season of the carcasses closed from one day to another, both included.

    Args:
        ledger: The ledger file; it is only read.
        config: For the cut list, the price list, the limits and the larder's name.
        species: Of one species only; empty for all.
        since: First day, in this machine's time zone; None for the first there is.
        until: Last day; None for the last.
        by: What the table is divided by.
        prices: The price list, before that of the settings.

    Raises:
        LedgerError: The ledger cannot be read.
        ConfigError: The price list has faults or cannot be read, or the days are the wrong way round.
        EntryError: No closed carcass is of this species.
        GrammarError: The cut list has faults.
    """
    if since is not None and until is not None and until < since:
        raise ConfigError(
            f"the last day, {until}, lies before the first, {since}",
            next_step="give them the other way round",
        )
    zone = datetime.now(UTC).astimezone().tzinfo or UTC
    with read_ledger(ledger) as store:
        closed = store.closed_between(_utc(since, zone), _utc(until and until + timedelta(days=1), zone))
    if species:
        closed = _of_species(closed, species)
    vocabulary = words.vocabulary(config)
    cuts = {cut.name for cut in vocabulary.cutlist.cuts} | {each.cut for each in closed.weighings}
    destinations = {to.name for to in vocabulary.cutlist.destinations}
    destinations |= {each.destination for each in closed.weighings}
    file = prices or (Path(config.season.prices).expanduser() if config.season.prices else None)
    found = _price_list(file, cuts - {""}, destinations - {""}) if file else None
    made = season_of(
        figures_of_season(closed, zone),
        by,
        rules=_rules(config),
        portion_cuts={cut.name for cut in vocabulary.cutlist.cuts if cut.kind == _PORTION},
        prices=found,
    )
    return Told(made, config.larder.name, since, until, species, found, zone)


def draw(told: Told, folder: Path) -> list[Path]:
    """Write the pictures of a season into a folder; the files.

    Raises:
        EngineUnavailableError: matplotlib is not installed.
        ReportError: They cannot be written.
    """
    return draw_season(told.season, folder, told.zone)


def _utc(day: date | None, zone: tzinfo) -> str:
    return rfc3339(datetime.combine(day, time(), zone).astimezone(UTC)) if day else ""


def _of_species(closed: ClosedSeason, species: str) -> ClosedSeason:
    wanted = [carcass for carcass in closed.carcasses if carcass.species == species]
    if not wanted and closed.carcasses:
        known = ", ".join(sorted({carcass.species or "(not said)" for carcass in closed.carcasses}))
        raise EntryError(
            f"no carcass closed then is of the species {species}", next_step=f"there are: {known}"
        )
    return closed.only({carcass.number for carcass in wanted})


def _price_list(file: Path, cuts: Collection[str], destinations: Collection[str]) -> PriceList:
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ConfigError(
            f"there is no price list {file}", next_step="check the path, or write one as README.md shows"
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"the price list {file} cannot be read: {error}") from error
    return read_price_list(text, str(file), cuts=cuts, destinations=destinations)


def _rules(config: Config) -> SeasonRules:
    settings = config.season
    usual = {
        Figure.LOSS: (settings.usual_loss, settings.loss_sd),
        Figure.MEAT: (settings.usual_yield, settings.yield_sd),
    }
    return SeasonRules(
        settings.limits_from,
        {figure: Usual(centre / 100, sd / 100) for figure, (centre, sd) in usual.items() if sd > 0},
    )
