"""Addresses that no log-in stands before: what a key opens, and what a device shows without a signal."""

from django.urls import path

from plans.views import client_page, client_report, feeds, phone

urlpatterns = [
    path("client/<str:key>/", client_page.page, name="client_page"),
    path("client/<str:key>/logo.png", client_page.logo, name="client_logo"),
    path("client/<str:key>/look.css", client_page.look, name="client_look"),
    path("client/<str:key>/documents/<slug:name>.pdf", client_page.document, name="client_document"),
    path("client/<str:key>/reports/<int:pk>/", client_report.page, name="client_report"),
    path(
        "client/<str:key>/reports/<int:pk>/photos/<slug:name>.jpg",
        client_report.photo,
        name="client_report_photo",
    ),
    path("client/<str:key>/ask/", client_page.ask, name="client_ask"),
    path("client/<str:key>/agree/", client_page.agree, name="client_agree"),
    path("client/<str:key>/decline/", client_page.decline, name="client_decline"),
    path("calendar/<str:key>.ics", feeds.feed, name="calendar_feed"),
    path("phone/", phone.page, name="phone"),
    path("phone/worker.js", phone.worker, name="phone_worker"),
]
