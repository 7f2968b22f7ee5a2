"""Row locks in one order: aircraft, engines, builds, and within each by id, so that two acts never wait in a circle."""

from __future__ import annotations

from collections.abc import Iterable

from engines.models import Aircraft, Build, Engine


def lock_aircraft(aircraft: Aircraft) -> Aircraft:
    return Aircraft.objects.select_for_update().get(pk=aircraft.pk)


def lock_engines(engine_ids: Iterable[int]) -> list[Engine]:
    return list(Engine.objects.select_for_update().filter(pk__in=set(engine_ids)).order_by("pk"))


def lock_build(build: Build) -> Build:
    return Build.objects.select_for_update().get(pk=build.pk)


def live_builds(engine_ids: Iterable[int]) -> list[Build]:
    """The builds of these engines that are still judged, locked."""
    live = Build.objects.filter(engine_id__in=set(engine_ids), assessment__live=True).values("pk")
    return list(Build.objects.select_for_update().filter(pk__in=live).order_by("pk"))
