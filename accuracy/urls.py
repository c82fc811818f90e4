"""Addresses of what was learned, under /sensors/."""

from django.urls import path

from accuracy.web import compare, first_pair, offers, pairs, profiles, reports, sensors, workouts

CELL = "<int:sensor_pk>/activities/<int:activity_pk>"

urlpatterns = [
    path("", sensors.sensors, name="sensors"),
    path("compare", compare.compare_sensors, name="compare_sensors"),
    path("compare/sessions.csv", compare.comparison_csv, name="comparison_csv"),
    path("compare/figures.json", compare.comparison_json, name="comparison_json"),
    path("maximum", offers.offered_maximum, name="maximum_offer"),
    path("first-pair", first_pair.first_pair, name="first_pair"),
    path("new", sensors.new_sensor, name="new_sensor"),
    path("<int:pk>", sensors.edit_sensor, name="edit_sensor"),
    path("<int:pk>/firmware", sensors.sensor_firmware, name="sensor_firmware"),
    path(CELL, profiles.profile, name="profile"),
    path(f"{CELL}/agreement.csv", profiles.agreement_csv, name="agreement_csv"),
    path(f"{CELL}/agreement.json", profiles.agreement_json, name="agreement_json"),
    path("pairs/<int:pk>", pairs.pair, name="pair"),
    path("pairs/<int:pk>/pair.csv", pairs.pair_csv, name="pair_csv"),
    path("pairs/<int:pk>/pair.json", pairs.pair_json, name="pair_json"),
    path("workouts/<int:pk>/chart.json", workouts.workout_chart, name="workout_chart"),
    path("reports", reports.reports, name="reports"),
    path("reports/<int:pk>/delete", reports.delete, name="delete_report"),
    *(
        path(f"reports/<int:pk>/report.{kind}", reports.report_file, {"kind": kind}, name=f"report_{kind}")
        for kind in reports.NAMES
    ),
    path("parts/<int:pk>/findings", pairs.part_findings, name="part_findings"),
]
