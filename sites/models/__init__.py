"""The ground: farms with their climate, the fields on them as they are today, and what lies beside them."""

from sites.models.farms import Farm, Observation, check_month_day, check_monthly_means, in_words
from sites.models.fields import Exclusion, Field, Landmark, check_geometry
from sites.models.uploads import MapUpload
from sites.models.walks import WalkOver, WalkPhoto
from sites.models.winds import PrevailingWind

__all__ = [
    "Exclusion",
    "Farm",
    "Field",
    "Landmark",
    "MapUpload",
    "Observation",
    "PrevailingWind",
    "WalkOver",
    "WalkPhoto",
    "check_geometry",
    "check_month_day",
    "check_monthly_means",
    "in_words",
]
