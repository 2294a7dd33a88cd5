"""Addresses that no log-in stands before: whoever holds the key may read."""

from django.urls import path

from plans.views import feeds

urlpatterns = [path("<str:key>.ics", feeds.feed, name="calendar_feed")]
