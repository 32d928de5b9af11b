"""What a browser posts to a callback, held to what the app would have posted: anything else is refused, in one line of the log."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from typing import Annotated, Any

from dash import Dash
from dash.dependencies import DashDependency
from flask import request
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError, validate_call
from werkzeug.exceptions import BadRequest

log = logging.getLogger("dashboard")
PATH = "/_dash-update-component"
Name = Annotated[str, Field(max_length=2000)]
