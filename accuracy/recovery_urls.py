"""Address of what claimed recovery hours are worth, under /recovery/."""

from django.urls import path

from accuracy.web.claimed_recovery import claimed_recoveries

urlpatterns = [path("claimed", claimed_recoveries, name="claimed_recoveries")]
