"""Reads of clients, farms and fields, each with the counts and sums a page shows."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet, Sum

from consulting.models import Client
from sites.models import Farm


def clients(search: str = "") -> QuerySet[Client]:
    """Clients whose name, place of a farm or farm name holds `search`, with their number of farms."""
    found = Client.objects.annotate(farm_count=Count("farms", distinct=True))
    if search:
        farms = Farm.objects.filter(Q(name__icontains=search) | Q(place__icontains=search))
        found = found.filter(Q(name__icontains=search) | Q(pk__in=farms.values("client")))
    return found.order_by("name", "pk")


def farms_of(client: Client) -> QuerySet[Farm]:
    return (
        Farm.objects.filter(client=client)
        .annotate(field_count=Count("fields"), acres=Sum("fields__acres"))
        .order_by("name", "pk")
    )
