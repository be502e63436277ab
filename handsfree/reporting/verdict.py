"""The balance on the page: the identity in figures, the verdict, and what is probably missing."""

from __future__ import annotations

from handsfree.reporting.figures import SuspectLine
from handsfree.reporting.markup import Markup, element, join
from handsfree.reporting.sheet import Sheet
from handsfree.reporting.words import chance, kg, sentence


def balance_part(sheet: Sheet) -> Markup:
    """Identity, verdict and suspects, or why there is no balance."""
    balance, identity = sheet.balance, sheet.identity
    if balance is None or identity is None:
        return element(
            "div",
            element("p", "No balance", class_="word"),
            element("p", sentence(sheet.no_balance)),
            element("p", f"Pieces: {kg(sheet.total_mg, sheet.decimals)} kg in all."),
            class_="verdict",
        )
    sign = element("i", "=")
    plus = element("i", "+")
    line = element(
        "div",
        _figure(identity.dressed_kg, "kg dressed"),
        sign,
        _figure(identity.pieces_kg, "kg in pieces"),
        plus,
        _figure(identity.process_loss_kg, "kg expected loss"),
        plus,
        _figure(identity.unaccounted_kg, "kg unaccounted"),
        element("i", "±"),
        _figure(identity.expanded_u_kg, f"kg (k = {balance.coverage_factor:.3g})"),
        class_="identity",
    )
    explained = "verdict explained" if balance.verdict == "explained" else "verdict"
    verdict = element(
        "div",
        element("p", balance.verdict, class_="word"),
        element("p", sentence(balance.sentence)),
        _suspects(balance.suspects),
        class_=explained,
    )
    return join((line, verdict))


def _figure(number: str, unit: str) -> Markup:
    return element("div", element("b", number), element("span", unit), class_="figure")


def _suspects(suspects: tuple[SuspectLine, ...]) -> Markup:
    if not suspects:
        return join(())
    lines = []
    for suspect in suspects:
        odds = f" ({chance(suspect.probability)} % likely)" if suspect.probability is not None else ""
        happened = element("b", f"{suspect.text[:1].upper()}{suspect.text[1:]}{odds}.")
        lines.append(element("li", happened, f" {suspect.remedy}"))
    return element("ol", *lines)


def sureness_part(sheet: Sheet) -> Markup:
    """What to know about the figures, and where the uncertainty comes from."""
    balance = sheet.balance
    if balance is None or not (balance.notes or balance.budget or balance.losses_from):
        return join(())
    lines = [element("p", balance.losses_from)] if balance.losses_from else []
    lines += [element("p", sentence(note)) for note in balance.notes]
    if balance.budget:
        sources = "; ".join(f"{line.source} {line.u_mg / 1000:.1f} g" for line in balance.budget)
        lines.append(element("p", f"Standard uncertainties behind the ±: {sources}."))
    return element("section", element("h2", "How sure this is"), *lines, class_="fine")
