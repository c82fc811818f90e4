"""Address of the strap plan."""

from django.urls import path

from accuracy.web.strap_plan import strap_plan

urlpatterns = [path("", strap_plan, name="strap_plan")]
