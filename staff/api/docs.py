"""The schema and a page that shows it. Neither holds data, so both are open."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.utils.decorators import method_decorator
from django.views.generic import TemplateView
from drf_spectacular.views import SpectacularJSONAPIView


class SchemaDoor(SpectacularJSONAPIView):
    authentication_classes = ()


@method_decorator(login_not_required, name="dispatch")
class DocsPage(TemplateView):
    """Without inline script or style, so that the policy of every other page holds here too."""

    template_name = "staff/api/docs.html"
