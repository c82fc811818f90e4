"""Addresses of what was learned, under /sensors/."""

from django.urls import path

from accuracy import web

urlpatterns = [
    path("", web.sensors, name="sensors"),
    path("new", web.new_sensor, name="new_sensor"),
    path("<int:pk>", web.edit_sensor, name="edit_sensor"),
    path("<int:pk>/firmware", web.sensor_firmware, name="sensor_firmware"),
    path("<int:sensor_pk>/activities/<int:activity_pk>", web.profile, name="profile"),
    path("parts/<int:pk>/findings", web.part_findings, name="part_findings"),
]
