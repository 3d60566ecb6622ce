"""Two machine instructions that numba does not offer, plain Python where that is off; aligned memory."""

import numpy as np
from numba import config, types
from numba.extending import intrinsic


def on_cache_lines(array: np.ndarray) -> np.ndarray:
    """The same array on whole cache lines, so that a row of 64 bytes is read in one."""
    room = np.empty(array.nbytes + 64, np.uint8)
    start = -room.ctypes.data % 64
    aligned = room[start : start + array.nbytes].view(array.dtype).reshape(array.shape)
    aligned[...] = array
    return aligned


if config.DISABLE_JIT:  # type: ignore[attr-defined]  # made at run time

    def multiply_add(a, b, c):
        """Return a * b + c in float32."""
        return np.float32(a * b + c)

    def lowest_bit(bits):
        """Position of the lowest set bit of a uint32 that is not 0."""
        return np.uint32((int(bits) & -int(bits)).bit_length() - 1)

else:

    @intrinsic
    def multiply_add(_typing, _a, _b, _c):
        """Return a * b + c in float32, in one step where the processor can: half the work of a hit test."""
        import llvmlite.ir as ir

        def codegen(_context, builder, _signature, args):
            kind = ir.FloatType()
            function = builder.module.declare_intrinsic(
                "llvm.fmuladd", [kind], ir.FunctionType(kind, [kind] * 3)
            )
            return builder.call(function, args)

        return types.float32(types.float32, types.float32, types.float32), codegen

    @intrinsic
    def lowest_bit(_typing, _bits):
        """Position of the lowest set bit of a uint32 that is not 0."""
        import llvmlite.ir as ir

        def codegen(_context, builder, _signature, args):
            return builder.cttz(args[0], ir.Constant(ir.IntType(1), 1))

        return types.uint32(types.uint32), codegen
