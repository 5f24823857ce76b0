"""What every door shares: the key, the roles it is open to, and reading what came."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, cast

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from rest_framework.request import Request
from rest_framework.views import APIView

from staff.doors.api_errors import problem
from staff.doors.api_fields import Shape
from staff.doors.api_keys import KeyAuthentication
from staff.doors.api_reading import JSONObjectParser
from staff.ground.errors import NotAllowed
from staff.ground.roles import Role
from staff.ground.transactions import retried
from staff.models import User
from staff.selectors.access import roles_of

OFFICER, LIAISON, LEAD, MEMBER = Role.OFFICER.value, Role.LIAISON.value, Role.LEAD.value, Role.MEMBER.value
ANYONE = "signed-in"


class Door(APIView):
    """A view of the API. `open_to` names, for each method, the roles it is open to; a method it lacks is shut.

    Roles only open the door; which rows stand behind it the selector decides, which takes the user. Reading begins
    anew when the database gave way; what changes something goes through `acting`.
    """

    authentication_classes = (KeyAuthentication,)
    parser_classes = (JSONObjectParser,)
    http_method_names = ["get", "head", "post"]  # noqa: RUF012
    open_to: ClassVar[Mapping[str, frozenset[str]]] = {}

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "get" in vars(cls):
            cls.get = retried(vars(cls)["get"])  # type: ignore[attr-defined]

    def check_permissions(self, request: Request) -> None:
        super().check_permissions(request)
        method = "GET" if request.method == "HEAD" else str(request.method)
        if method.lower() not in self.http_method_names or not hasattr(self, method.lower()):
            return  # answered 405 a little later
        allowed = self.open_to.get(method, frozenset())
        if ANYONE not in allowed and not roles_of(account(request)) & allowed:
            raise NotAllowed(_("Your account may not do this; ask the safety officer of the site."))


@csrf_exempt
@login_not_required
def nowhere(_request: HttpRequest) -> JsonResponse:
    """Any other address under /api/v1/: an error in the one shape, never a page or a redirect."""
    return JsonResponse(problem(404).data, status=404)


def account(request: Request) -> User:
    """The account behind the key; the door has made sure there is one."""
    return cast(User, request.user)


def body(request: Request, shape: type[Shape]) -> dict[str, Any]:
    """The valid fields of the body; raises ValidationError naming each field that isn't."""
    return _valid(shape(data=request.data))


def query(request: Request, shape: type[Shape]) -> dict[str, Any]:
    """The valid parameters of the address; given twice, the last one counts."""
    return _valid(shape(data=request.query_params.dict()))


def _valid(read: Shape) -> dict[str, Any]:
    read.is_valid(raise_exception=True)
    return dict(read.validated_data)
