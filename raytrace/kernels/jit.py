"""How every kernel is compiled, and numba without the library that no kernel needs."""

import sys

import numba

# Where numba's array functions load, they look for scipy's BLAS, which takes a quarter of a second. No kernel
# needs one: the look fails at once here, and numba finds BLAS when somebody else's function asks for it.
_BLAS = "scipy.linalg.cython_blas"
if _BLAS not in sys.modules:
    sys.modules[_BLAS] = None  # type: ignore[assignment]  # what import takes for "not there"
    try:
        from numba.np import arraymath

        arraymath._HAVE_BLAS = True
    finally:
        del sys.modules[_BLAS]

# The same of cffi, whose parser of C takes a twentieth of a second: no kernel calls a function of C.
_CFFI = "cffi"
if _CFFI not in sys.modules:
    sys.modules[_CFFI] = None  # type: ignore[assignment]  # as above: "not there"
    try:
        import numba.core.typing.cffi_utils
    finally:
        del sys.modules[_CFFI]

#: Compiled without Python's lock and kept on disk; a division by nought gives inf or nan, as in numpy.
kernel = numba.njit(cache=True, nogil=True, error_model="numpy")
#: The same, written into whatever calls it.
inlined = numba.njit(cache=True, nogil=True, error_model="numpy", inline="always")
