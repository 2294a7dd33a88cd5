"""Units of the ground, each written once."""

from __future__ import annotations

M_PER_FT = 0.3048
"""The international foot, exactly. Source: NIST SP 811, appendix B [from memory]."""
FT_PER_MILE = 5280.0
M_PER_MILE = M_PER_FT * FT_PER_MILE
M2_PER_ACRE = 4046.8564224
"""43,560 square feet of the international foot, exactly. Source: NIST SP 811, appendix B [from memory]."""
