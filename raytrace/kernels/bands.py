"""Arithmetic on rows of eight bands as one vector: numba would go band by band, for fear of overlaps.

All arrays are (n, 8) float64 and contiguous. With compilation switched off it is plain numpy.
"""

import numpy as np
from numba import config, types
from numba.extending import intrinsic

from raytrace.kernels.fused import on_cache_lines

N_BANDS = 8


def new_rows(n: int) -> np.ndarray:
    """Zeros (n, 8), each row one cache line."""
    return on_cache_lines(np.zeros((n, N_BANDS)))


if config.DISABLE_JIT:  # type: ignore[attr-defined]  # made at run time

    def scale_row(target, row, factors, other):
        """target[row] *= factors[other]."""
        target[row] *= factors[other]

    def add_scaled(target, row, weight, values, other):
        """target[row] += weight * values[other]."""
        target[row] += weight * values[other]

    def set_scaled(target, row, weight, values, other):
        """target[row] = weight * values[other]."""
        target[row] = weight * values[other]

    def is_any_above(values, row, limit):
        """Whether a band of values[row] is above a limit."""
        return bool((values[row] > limit).any())

else:
    import llvmlite.ir as ir
    from numba.core import cgutils

    _EIGHT = ir.VectorType(ir.DoubleType(), N_BANDS)

    def _place(context, builder, kind, array, row):
        """Pointer to a row as a vector."""
        data = cgutils.create_struct_proxy(kind)(context, builder, value=array).data
        start = builder.mul(row, ir.Constant(row.type, N_BANDS))
        return builder.bitcast(builder.gep(data, [start]), _EIGHT.as_pointer())

    def _load(builder, place):
        row = builder.load(place)
        row.align = 8
        return row

    def _store(builder, row, place):
        builder.store(row, place).align = 8

    def _even(builder, number):
        """A vector of eight times the same number."""
        vector = builder.insert_element(ir.Constant(_EIGHT, ir.Undefined), number, ir.IntType(32)(0))
        mask = ir.Constant(ir.VectorType(ir.IntType(32), N_BANDS), [0] * N_BANDS)
        return builder.shuffle_vector(vector, ir.Constant(_EIGHT, ir.Undefined), mask)

    @intrinsic
    def scale_row(_typing, target, _row, factors, _other):
        """target[row] *= factors[other]."""

        def codegen(context, builder, _signature, args):
            place = _place(context, builder, target, args[0], args[1])
            factor = _load(builder, _place(context, builder, factors, args[2], args[3]))
            _store(builder, builder.fmul(_load(builder, place), factor), place)
            return context.get_dummy_value()

        return types.none(target, types.intp, factors, types.intp), codegen

    @intrinsic
    def add_scaled(_typing, target, _row, _weight, values, _other):
        """target[row] += weight * values[other]."""

        def codegen(context, builder, _signature, args):
            place = _place(context, builder, target, args[0], args[1])
            value = _load(builder, _place(context, builder, values, args[3], args[4]))
            more = builder.fmul(_even(builder, args[2]), value)
            _store(builder, builder.fadd(_load(builder, place), more), place)
            return context.get_dummy_value()

        return types.none(target, types.intp, types.float64, values, types.intp), codegen

    @intrinsic
    def set_scaled(_typing, target, _row, _weight, values, _other):
        """target[row] = weight * values[other]."""

        def codegen(context, builder, _signature, args):
            value = _load(builder, _place(context, builder, values, args[3], args[4]))
            place = _place(context, builder, target, args[0], args[1])
            _store(builder, builder.fmul(_even(builder, args[2]), value), place)
            return context.get_dummy_value()

        return types.none(target, types.intp, types.float64, values, types.intp), codegen

    @intrinsic
    def is_any_above(_typing, values, _row, _limit):
        """Whether a band of values[row] is above a limit."""

        def codegen(context, builder, _signature, args):
            value = _load(builder, _place(context, builder, values, args[0], args[1]))
            above = builder.fcmp_ordered(">", value, _even(builder, args[2]))
            bits = builder.bitcast(above, ir.IntType(N_BANDS))
            return builder.zext(
                builder.icmp_unsigned("!=", bits, ir.Constant(bits.type, 0)),
                context.get_value_type(types.boolean),
            )

        return types.boolean(values, types.intp, types.float64), codegen
