from django.urls import path

from sites.views import clients, farms, fields, removal, walks

urlpatterns = [
    path("clients/", clients.clients, name="clients"),
    path("clients/new/", clients.new, name="client_new"),
    path("clients/<int:pk>/", clients.client, name="client"),
    path("clients/<int:pk>/edit/", clients.edit, name="client_edit"),
    path("clients/<int:pk>/remove/", removal.client, name="client_remove"),
    path("clients/<int:pk>/farms/new/", farms.new, name="farm_new"),
    path("farms/<int:pk>/", farms.farm, name="farm"),
    path("farms/<int:pk>/edit/", farms.edit, name="farm_edit"),
    path("farms/<int:pk>/remove/", removal.farm, name="farm_remove"),
    path("farms/<int:pk>/seen/", farms.observe, name="farm_observe"),
    path("seen/<int:pk>/remove/", farms.observation_remove, name="observation_remove"),
    path("farms/<int:pk>/wind/", farms.wind, name="farm_wind"),
    path("winds/<int:pk>/remove/", farms.wind_remove, name="wind_remove"),
    path("farms/<int:pk>/climate/", farms.climate, name="farm_climate"),
    path("farms/<int:pk>/climate/station/", farms.take_climate, name="farm_take_climate"),
    path("farms/<int:pk>/fields/new/", fields.new, name="field_new"),
    path("fields/<int:pk>/", fields.field, name="field"),
    path("fields/<int:pk>/edit/", fields.edit, name="field_edit"),
    path("fields/<int:pk>/remove/", removal.field, name="field_remove"),
    path("fields/<int:pk>/walks/new/", walks.new, name="walk_new"),
    path("walks/<int:pk>/", walks.walk, name="walk"),
    path("walks/<int:pk>/correct/", walks.correct, name="walk_correct"),
    path("walks/<int:pk>/photos/", walks.photos, name="walk_photos"),
    path("walks/photos/<int:pk>.jpg", walks.photo, name="walk_photo"),
    path("walks/photos/<int:pk>/caption/", walks.photo_caption, name="walk_photo_caption"),
    path("walks/photos/<int:pk>/remove/", walks.photo_remove, name="walk_photo_remove"),
]
