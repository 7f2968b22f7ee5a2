"""What the shop sends, as the browser would: the fields of its forms with ordinary answers in them."""

from __future__ import annotations

from typing import Any

from tests.reports.portal_forms import chosen, error_at, value_of

__all__ = ["a_build", "an_install", "chosen", "error_at", "issued_after_a_look", "type_address", "value_of"]


def type_address(revision: Any) -> str:
    return f"/shop/builds/new/?type={revision.engine_type_id}"


def issued_after_a_look(client: Any, address: str, typed: dict[str, Any]) -> Any:
    """The answer to a plan that is issued again: first looked at, then sent as it was looked at."""
    look = client.post(address, {**typed, "preview": "1"})
    return client.post(address, {**typed, "looked": value_of(look, "looked")})


def a_build(**changed: Any) -> dict[str, Any]:
    """An overhaul with the same finish in every position; None takes a field out."""
    usual: dict[str, Any] = {
        "serial": "E-7001",
        "known": "new",
        "number": "B-71",
        "kind": "overhaul",
        "opened_date": "2026-06-15",
        "opened_time": "04:00",
        "all_finish": "nitrided",
        "all_ring_lot": "R7",
        "plan": "suggested",
    }
    return {name: value for name, value in {**usual, **changed}.items() if value is not None}


def an_install(**changed: Any) -> dict[str, Any]:
    """A single, on tach time, with its minimum oil; None takes a field out."""
    usual: dict[str, Any] = {
        "registration": "QX-903",
        "position": "single",
        "since_date": "2026-06-15",
        "since_time": "05:00",
        "basis_clock": "tach",
        "tach_h": "812.4",
        "min_oil_qt": "5",
        "min_oil_qt_unit": "qt",
        "min_oil_source": "POH/AFM section 2",
        "prop_control": "constant_speed",
        "instruments": ["has_map", "has_fuel_flow"],
    }
    return {name: value for name, value in {**usual, **changed}.items() if value is not None}
