from django.urls import path

from sites.views import away, clients, farms, fields, removal, slope

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
    path("farms/<int:pk>/climate/", farms.climate, name="farm_climate"),
    path("farms/<int:pk>/climate/station/", farms.take_climate, name="farm_take_climate"),
    path("farms/<int:pk>/fields/new/", fields.new, name="field_new"),
    path("fields/<int:pk>/", fields.field, name="field"),
    path("fields/<int:pk>/away/new/", away.new, name="exclusion_new"),
    path("away/<int:pk>/", away.edit, name="exclusion_edit"),
    path("away/<int:pk>/remove/", away.remove, name="exclusion_remove"),
    path("fields/<int:pk>/slope/", slope.slope, name="field_slope"),
    path("fields/<int:pk>/slope/take/", slope.take, name="field_slope_take"),
    path("fields/<int:pk>/edit/", fields.edit, name="field_edit"),
    path("fields/<int:pk>/remove/", removal.field, name="field_remove"),
]
