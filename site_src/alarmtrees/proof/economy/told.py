"""What is said of the order of the questions, in words for the editor of a tree."""

from __future__ import annotations

from collections.abc import Callable

from ...model.wording import lasting
from . import NewOrder, Row

ASSUMED = (
    "Advice to the editor; nothing is changed. It counts one cause at a time, the estimated shares, and the longest "
    "time that a calm reader needs for each step. It takes for granted that a question tells nothing of a cause it "
    "does not name. What else speaks for an order, such as what harms the patient soonest, it does not know."
)


def verdict(row: Row) -> str:
    """What is known of a row, in one sentence."""
    if row.best and row.exact:
        return "The quickest order that keeps every safety rule:"
    if row.best:
        return f"An order that is quicker and keeps every safety rule; none gains more than {lasting(row.bound)}:"
    if not row.exact:
        return f"No quicker order that keeps every safety rule was found; none gains more than {lasting(row.bound)}."
    if row.bound < 1:
        return "They stand in the quickest order."
    return "They stand in the quickest order that keeps every safety rule."


def gained(order: NewOrder, named: Callable[[str], str] = str) -> str:
    """What an order gains, how sure that is, and what it breaks; `named` writes the name of a rule."""
    gain = f"{lasting(order.gain)} sooner"
    if order.faults:
        return f"{gain}, but it breaks {', '.join(map(named, order.faults))}"
    low = f"{lasting(order.low)} sooner" if order.sure else f"{lasting(-order.low)} later"
    verdict = "sure" if order.sure else "not sure"
    return f"{gain}; {verdict}: from {low} to {lasting(order.high)} sooner, were each share off by a factor of two"
