"""Addresses that no log-in stands before: what a key opens, and what a device shows without a signal."""

from django.urls import path

from plans.views import feeds, phone

urlpatterns = [
    path("calendar/<str:key>.ics", feeds.feed, name="calendar_feed"),
    path("phone/", phone.page, name="phone"),
    path("phone/worker.js", phone.worker, name="phone_worker"),
]
