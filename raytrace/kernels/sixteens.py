"""Sixteen float32 side by side as one value: arithmetic that is SIMD by construction, not by luck.

Left alone with a loop over sixteen places, the compiler finds the arithmetic but not the quick way from
sixteen comparisons to sixteen bits; here both are one instruction where the processor has it. With
compiling off, a value is a numpy array of sixteen.
"""

import operator

import numpy as np
from numba import config, types
from numba.extending import intrinsic, models, overload, register_model

N = 16

if config.DISABLE_JIT:  # type: ignore[attr-defined]  # made at run time

    def row_of(array, i, j):
        """The sixteen of array (., ., 16) float32 at i, j."""
        return array[i, j]

    def put_row(array, i, j, a):
        """Put sixteen into array (., ., 16) float32 at i, j."""
        array[i, j] = a

    def spread(x):
        """Sixteen times the same float32."""
        return np.full(N, x, np.float32)

    def fused(a, b, c):
        """Return a * b + c, rounded once where the processor can."""
        return a * b + c

    def lesser(a, b):
        """The lesser of a and b, place by place."""
        return np.minimum(a, b)

    def greater(a, b):
        """The greater of a and b, place by place."""
        return np.maximum(a, b)

    def pick_bits(bits, a, b):
        """A where the bit of the place is set, else b."""
        return np.where(bits >> np.arange(N) & 1 == 1, a, b)

    def bits_below(a, b):
        """One bit in a uint32 for each place where a < b."""
        return np.uint32(((a < b) * (1 << np.arange(N))).sum())

    def bits_up_to(a, b):
        """One bit in a uint32 for each place where a <= b."""
        return np.uint32(((a <= b) * (1 << np.arange(N))).sum())

    def reciprocal(a):
        """1 / a to two units in the last place; inf or nan where a is 0."""
        with np.errstate(divide="ignore"):
            return np.float32(1.0) / a

    def at_place(a, k):
        """The float32 at place k."""
        return a[k]

else:
    import llvmlite.ir as ir

    _VECTOR = ir.VectorType(ir.FloatType(), N)
    _INT = ir.IntType(32)
    _SIZE = ir.IntType(64)

    class Sixteen(types.Type):
        """Numba's type of sixteen float32."""

        def __init__(self):
            super().__init__(name="Sixteen")

    SIXTEEN = Sixteen()

    @register_model(Sixteen)
    class _Model(models.PrimitiveModel):
        def __init__(self, manager, kind):
            super().__init__(manager, kind, _VECTOR)

    def _of_sixteens(n, build, result=SIXTEEN):
        """An intrinsic of n sixteens; `build` makes its instructions from (builder, *values)."""

        def codegen(_context, builder, _signature, args):
            return build(builder, *args)

        signature = result(*[SIXTEEN] * n)
        if n == 1:
            return intrinsic(lambda _typing, _a: (signature, codegen))
        if n == 2:
            return intrinsic(lambda _typing, _a, _b: (signature, codegen))
        return intrinsic(lambda _typing, _a, _b, _c: (signature, codegen))

    def _called(name):
        """Instructions that call LLVM's function of some sixteens."""

        def build(builder, *args):
            kind = ir.FunctionType(_VECTOR, [_VECTOR] * len(args))
            function = builder.module.declare_intrinsic(f"llvm.{name}.v{N}f32", (), kind)
            return builder.call(function, args)

        return build

    def _where(sign):
        return lambda builder, a, b: builder.select(builder.fcmp_ordered(sign, a, b), a, b)

    def _bits(sign):
        def build(builder, a, b):
            return builder.zext(builder.bitcast(builder.fcmp_ordered(sign, a, b), ir.IntType(N)), _INT)

        return build

    fused = _of_sixteens(3, _called("fmuladd"))
    lesser = _of_sixteens(2, _where("<"))
    greater = _of_sixteens(2, _where(">"))
    bits_below = _of_sixteens(2, _bits("<"), types.uint32)
    bits_up_to = _of_sixteens(2, _bits("<="), types.uint32)
    # An estimate refined once, which takes half the time of a division where the processor has one.
    reciprocal = _of_sixteens(
        1, lambda builder, a: builder.fdiv(ir.Constant(_VECTOR, [1.0] * N), a, flags=("arcp", "ninf"))
    )

    def _operator(sign, n, build):
        function = _of_sixteens(n, build)
        if n == 1:

            @overload(sign)
            def of_one(a):
                return (lambda a: function(a)) if a == SIXTEEN else None

        else:

            @overload(sign)
            def of_two(a, b):
                return (lambda a, b: function(a, b)) if a == b == SIXTEEN else None

    _operator(operator.add, 2, lambda builder, a, b: builder.fadd(a, b))
    _operator(operator.sub, 2, lambda builder, a, b: builder.fsub(a, b))
    _operator(operator.mul, 2, lambda builder, a, b: builder.fmul(a, b))
    _operator(operator.truediv, 2, lambda builder, a, b: builder.fdiv(a, b))
    _operator(operator.neg, 1, lambda builder, a: builder.fneg(a))
    _operator(abs, 1, _called("fabs"))

    def _place(context, builder, signature, args):
        """Pointer to the sixteen at i, j of args (array, i, j, ...)."""
        made = context.make_array(signature.args[0])(context, builder, args[0])
        start = builder.ptrtoint(made.data, _SIZE)
        for axis in range(2):
            step = builder.mul(builder.extract_value(made.strides, axis), args[1 + axis])
            start = builder.add(start, step)
        return builder.inttoptr(start, _VECTOR.as_pointer())

    @intrinsic
    def row_of(_typing, array, _i, _j):
        """The sixteen of array (., ., 16) float32 at i, j."""

        def codegen(context, builder, signature, args):
            return builder.load(_place(context, builder, signature, args), align=4)

        return SIXTEEN(array, types.uint64, types.uint64), codegen

    @intrinsic
    def put_row(_typing, array, _i, _j, _a):
        """Put sixteen into array (., ., 16) float32 at i, j."""

        def codegen(context, builder, signature, args):
            builder.store(args[3], _place(context, builder, signature, args), align=4)
            return context.get_dummy_value()

        return types.void(array, types.uint64, types.uint64, SIXTEEN), codegen

    @intrinsic
    def pick_bits(_typing, _bits, _a, _b):
        """A where the bit of the place is set, else b."""

        def codegen(_context, builder, _signature, args):
            mask = builder.bitcast(builder.trunc(args[0], ir.IntType(N)), ir.VectorType(ir.IntType(1), N))
            return builder.select(mask, args[1], args[2])

        return SIXTEEN(types.uint32, SIXTEEN, SIXTEEN), codegen

    @intrinsic
    def spread(_typing, _x):
        """Sixteen times the same float32."""

        def codegen(_context, builder, _signature, args):
            nothing = ir.Constant(_VECTOR, ir.Undefined)
            first = builder.insert_element(nothing, args[0], ir.Constant(_INT, 0))
            return builder.shuffle_vector(first, nothing, ir.Constant(ir.VectorType(_INT, N), [0] * N))

        return SIXTEEN(types.float32), codegen

    @intrinsic
    def at_place(_typing, _a, k):
        """The float32 at place k."""

        def codegen(_context, builder, _signature, args):
            return builder.extract_element(args[0], args[1])

        return types.float32(SIXTEEN, k), codegen
