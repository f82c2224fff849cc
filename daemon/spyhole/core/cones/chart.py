"""End points of pyrometric cones as published: the temperature at which each cone is down (bent 90 degrees).

Source: Edward Orton Jr. Ceramic Foundation, wall chart of temperature equivalents for cones 022-14, Celsius edition
(calibration after 1996). The rate is that of the last 100 degC; the atmosphere is air. Reproductions were compared
with the Fahrenheit edition cell by cell. Most of the 15 degC/h column from cone 07 up, most iron-free and small cones
from 07 up, the half cones and cones 11 to 14 rest on one reproduction.

Cells kept as published, and not to be trusted:
- self-supporting 022 at 150 degC/h stands only 4 above 60 degC/h, and would mean an activation energy several times
  that of its neighbours;
- large 13 at 60 degC/h stands 10 below self-supporting, where 2 or 3 is usual;
- large 14 stands lower at 150 than at 60 degC/h.

Large cones are self-supporting ones less 2 or 3 degC nearly everywhere: they say nothing new about the effect of rate.
Small cones: the 300 degC/h column came from a gas kiln, and nothing in the chart describes a small cone lying in a
shut-off.
"""

from enum import StrEnum

from spyhole.core.plan import Body


class Form(StrEnum):
    """How a cone is made and stood."""

    SELF_SUPPORTING = "self_supporting"
    LARGE = "large"
    SMALL = "small"


COLUMNS: tuple[tuple[Form, Body, int], ...] = (
    (Form.SELF_SUPPORTING, Body.ORDINARY, 15),
    (Form.SELF_SUPPORTING, Body.ORDINARY, 60),
    (Form.SELF_SUPPORTING, Body.ORDINARY, 150),
    (Form.LARGE, Body.ORDINARY, 60),
    (Form.LARGE, Body.ORDINARY, 150),
    (Form.SMALL, Body.ORDINARY, 300),
    (Form.SELF_SUPPORTING, Body.IRON_FREE, 15),
    (Form.SELF_SUPPORTING, Body.IRON_FREE, 60),
    (Form.SELF_SUPPORTING, Body.IRON_FREE, 150),
    (Form.LARGE, Body.IRON_FREE, 60),
    (Form.LARGE, Body.IRON_FREE, 150),
)
"""Form, body and rate [degC/h] of each column of the table below."""

_TABLE = """
 022   --  586  590   --   --  630   --   --   --   --   --
 021   --  600  617   --   --  643   --   --   --   --   --
 020   --  626  638   --   --  666   --   --   --   --   --
 019  656  678  695  676  693  723   --   --   --   --   --
 018  686  715  734  712  732  752   --   --   --   --   --
 017  705  738  763  736  761  784   --   --   --   --   --
 016  742  772  796  769  794  825   --   --   --   --   --
 015  750  791  818  788  816  843   --   --   --   --   --
 014  757  807  838  807  836  870   --   --   --   --   --
 013  807  837  861  837  859  880   --   --   --   --   --
 012  843  861  882  858  880  900   --   --   --   --   --
 011  857  875  894  873  892  915   --   --   --   --   --
 010  891  903  915  898  913  919  871  886  893  884  891
  09  907  920  930  917  928  955  899  919  928  917  926
  08  922  942  956  942  954  983  924  946  957  945  955
  07  962  976  987  973  985 1008  953  971  982  970  980
  06  981  998 1013  995 1011 1023  969  991  998  991  996
05.5 1004 1015 1025 1012 1023 1043  990 1012 1021 1011 1020
  05 1021 1031 1044 1030 1046 1062 1013 1037 1046 1032 1044
  04 1046 1063 1077 1060 1070 1098 1043 1061 1069 1060 1067
  03 1071 1086 1104 1086 1101 1131 1066 1088 1093 1087 1091
  02 1078 1102 1122 1101 1120 1148 1084 1105 1115 1102 1113
  01 1093 1119 1138 1117 1137 1178 1101 1123 1134 1122 1132
   1 1109 1137 1154 1136 1154 1184 1119 1139 1148 1137 1146
   2 1112 1142 1164 1142 1162 1190   --   --   --   --   --
   3 1115 1152 1170 1152 1168 1196 1130 1154 1162 1151 1160
   4 1141 1162 1183 1160 1181 1209   --   --   --   --   --
   5 1159 1186 1207 1184 1205 1221   --   --   --   --   --
 5.5 1167 1203 1225 1201 1223   --   --   --   --   --   --
   6 1185 1222 1243 1220 1241 1255   --   --   --   --   --
   7 1201 1239 1257 1237 1255 1264   --   --   --   --   --
   8 1211 1249 1271 1247 1269 1300   --   --   --   --   --
   9 1224 1260 1280 1257 1278 1317   --   --   --   --   --
  10 1251 1285 1305 1282 1303 1330   --   --   --   --   --
  11 1272 1294 1315 1293 1312 1336   --   --   --   --   --
  12 1285 1306 1326 1304 1324 1355   --   --   --   --   --
  13 1310 1331 1348 1321 1346   --   --   --   --   --   --
  14 1351 1365 1384 1388 1366   --   --   --   --   --   --
"""
"""One row a cone from the softest to the hardest, degC; -- where the chart is empty."""


def _end_points() -> dict[tuple[Form, Body], dict[str, dict[int, int]]]:
    chart: dict[tuple[Form, Body], dict[str, dict[int, int]]] = {}
    for row in _TABLE.split("\n")[1:-1]:
        name, *cells = row.split()
        for (form, body, rate), cell in zip(COLUMNS, cells, strict=True):
            if cell != "--":
                chart.setdefault((form, body), {}).setdefault(name, {})[rate] = int(cell)
    return chart


END_POINTS: dict[tuple[Form, Body], dict[str, dict[int, int]]] = _end_points()
"""(form, body) -> cone -> rate [degC/h] -> end point [degC]; cones in order from the softest to the hardest."""
