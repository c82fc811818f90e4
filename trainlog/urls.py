"""Addresses of the whole site."""

from django.contrib.auth import views as auth
from django.urls import include, path, register_converter

from trainlog.api.operations import api
from trainlog.web import (
    account,
    calendar,
    care,
    check_in,
    exports,
    files,
    health,
    lift_sets,
    log,
    measure,
    method,
    offers,
    plan,
    recovery,
    stays,
    trend,
    typed_session,
    unknown_days,
    week,
    workout,
)
from trainlog.web.converters import IsoDateConverter, IsoMonthConverter

register_converter(IsoDateConverter, "isodate")
register_converter(IsoMonthConverter, "isomonth")

urlpatterns = [
    path("", log.log, name="log"),
    path("sign-in", auth.LoginView.as_view(template_name="sign_in.html"), name="sign_in"),
    path("sign-out", auth.LogoutView.as_view(), name="sign_out"),
    path("health", health.health, name="health"),
    path("files", files.add_files, name="add_files"),
    path("files/progress", files.progress, name="progress"),
    path("files/<int:pk>/sensor", files.choose_sensor, name="choose_sensor"),
    path("files/<int:pk>/clock", files.set_clock, name="set_clock"),
    path("files/<int:pk>/again", files.read_again, name="read_again"),
    path("files/<int:pk>/delete", files.delete_recording, name="delete_recording"),
    path("files/<int:pk>/original", files.original, name="original"),
    path("workouts/new", typed_session.typed_session, name="typed_workout"),
    path("workouts/<int:pk>", workout.workout, name="workout"),
    path("workouts/<int:pk>/chart.json", workout.chart, name="workout_traces"),
    path("workouts/<int:pk>/note", workout.note, name="note"),
    path("workouts/<int:pk>/claimed-recovery", recovery.claimed, name="claimed_recovery"),
    path("workouts/<int:pk>/delete", workout.delete_workout, name="delete_workout"),
    path("parts/<int:pk>/activity", workout.activity, name="part_activity"),
    path("parts/<int:pk>/session-rpe", workout.session_rpe, name="part_session_rpe"),
    path("parts/<int:pk>/split", workout.split, name="part_split"),
    path("parts/<int:pk>/boundary", workout.boundary, name="part_boundary"),
    path("parts/<int:pk>/join", workout.join, name="part_join"),
    path("parts/<int:pk>/sets", lift_sets.add_set, name="add_set"),
    path("sets/<int:pk>", lift_sets.change_set, name="change_set"),
    path("sets/<int:pk>/delete", lift_sets.delete_set, name="delete_set"),
    path("week", week.week, name="this_week"),
    path("week/<isodate:day>", week.week, name="week"),
    path("trend", trend.trend, name="trend"),
    path("trend/spans", trend.spans, name="trend_spans"),
    path("week/<isodate:day>/plan", plan.week_plan, name="week_plan"),
    path("week/<isodate:day>/sessions", plan.new_session, name="new_session"),
    path("week/<isodate:day>/again", plan.same_again, name="same_again"),
    path("planned/<int:pk>", plan.planned_session, name="planned_session"),
    path("planned/<int:pk>/delete", plan.delete_session, name="delete_session"),
    path("plan.ics", plan.plan_file, name="plan_file"),
    path("calendar", calendar.calendar, name="this_month"),
    path("calendar/years", calendar.years, name="years"),
    path("calendar/<isomonth:month>", calendar.calendar, name="calendar"),
    path("unknown-days", unknown_days.mark, name="mark_unknown"),
    path("unknown-days/<isodate:day>/take-back", unknown_days.take_back, name="unmark_unknown"),
    path("check-in", check_in.check_in, name="check_in"),
    path("recovery", recovery.recovery, name="recovery"),
    path("recovery/", include("accuracy.recovery_urls")),
    path("check-in/<isodate:day>/delete", check_in.delete, name="delete_check_in"),
    path("method", method.method, name="method"),
    *(
        path(f"export/{table}.{kind}", exports.export, {"table": table, "kind": kind})
        for table in exports.TABLES
        for kind in exports.KINDS
    ),
    path("account", account.account, name="account"),
    path("account/activity", account.activity, name="new_activity"),
    path("account/measure", measure.measure, name="choose_measure"),
    path("account/physiology", account.physiology, name="physiology"),
    path("account/care", care.care, name="care"),
    path("account/offers/decline", offers.decline, name="decline_offer"),
    path("account/stays", stays.add_stay, name="new_stay"),
    path("account/stays/<int:pk>", stays.stay, name="stay"),
    path("account/stays/<int:pk>/delete", stays.delete, name="delete_stay"),
    path("sensors/", include("accuracy.urls")),
    path("strap-plan", include("accuracy.strap_plan_urls")),
    path("api/", api.urls),
]
