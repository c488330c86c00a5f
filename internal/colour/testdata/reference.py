"""Runs built-in transforms of the OpenColorIO library by index.

Reads one JSON object {"index": i, "direction": "forward"|"inverse",
"rgb": [[r, g, b], ...]} a line; answers each with a line of JSON triples.
The first line it writes is the library's version.
"""

import json
import sys

import PyOpenColorIO as ocio

print(ocio.__version__, flush=True)
config = ocio.Config.CreateRaw()
builtins = ocio.BuiltinTransformRegistry().getBuiltins()
for line in sys.stdin:
    ask = json.loads(line)
    transform = ocio.BuiltinTransform(builtins[ask["index"]][0])
    direction = ocio.TRANSFORM_DIR_INVERSE if ask["direction"] == "inverse" else ocio.TRANSFORM_DIR_FORWARD
    cpu = config.getProcessor(transform, direction).getDefaultCPUProcessor()
    print(json.dumps([cpu.applyRGB(v) for v in ask["rgb"]]), flush=True)
