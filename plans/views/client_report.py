"""A season report behind the client's link: the page of one that was sent, and its photographs."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from plans import fixed_points, reports
from plans.client_documents import key_of_report, title_of_report
from plans.documents.season_facts import read_report
from plans.manners import speaking
from plans.models import SentReport
from plans.report_pages import report_shown
from plans.views.client_page import ClientRequest, of_house, through_link


def sent_or_404(request: ClientRequest, pk: int) -> SentReport:
    """Of the plan that the link is of, and of no other."""
    return get_object_or_404(SentReport.objects.filter(plan=request.link.plan).defer("pdf"), pk=pk)


@require_safe
@through_link
def page(request: ClientRequest, key: str, pk: int) -> HttpResponse:
    """What was frozen, in the manner in which it was printed for this client."""
    sent = sent_or_404(request, pk)
    report = read_report(sent.content)
    context = of_house(request, key) | {
        "sent": sent,
        "plan": request.link.plan,
        "document": key_of_report(sent),
    }
    if report is None:
        return render(request, "client/report.html", context | {"title": title_of_report(sent)})
    with speaking(report.manner):
        shown = report_shown(report, lambda shot: reverse("client_report_photo", args=[key, pk, shot.name]))
        return render(request, "client/report.html", context | shown | {"title": title_of_report(sent)})


@require_safe
@through_link
def photo(request: ClientRequest, key: str, pk: int, name: str) -> HttpResponse:
    """A photograph that the report shows, as long as nobody took it away."""
    report = read_report(sent_or_404(request, pk).content)
    shots = [shot for shot in reports.shots_of(report) if shot.name == name] if report else []
    kept = fixed_points.pictures(shots)
    if name not in kept:
        raise Http404("no such photograph")
    return HttpResponse(kept[name], content_type="image/jpeg")
