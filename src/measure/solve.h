/* Small dense symmetric systems, for the normal equations of the fit. Private to src/measure/. */
#ifndef GAINWALK_MEASURE_SOLVE_H
#define GAINWALK_MEASURE_SOLVE_H

#include <stdbool.h>
#include <stddef.h>

/* Factors the symmetric positive definite `matrix` (order by order, row major; the lower triangle is read) into L·Lᵀ,
 * L in the lower triangle. False, with the matrix spoilt, when a pivot falls under `least` times its diagonal: the
 * columns of the fit can't be told apart. (Cholesky; Golub & Van Loan, Matrix Computations, 4.2.) */
bool gw_solve_factor(double *matrix, size_t order, double least);

/* vector = L⁻¹·vector. */
void gw_solve_forward(const double *factor, size_t order, double *vector);

/* The same of several vectors at once, which lie beside each other: unknown k of vector v at [k][v]. */
enum { GW_SOLVED_AT_ONCE = 8 };
void gw_solve_forward_all(const double *factor, size_t order, double (*vectors)[GW_SOLVED_AT_ONCE]);

/* vector = (L·Lᵀ)⁻¹·vector. */
void gw_solve_back(const double *factor, size_t order, double *vector);

/* The whole symmetric inverse of L·Lᵀ, into `inverse` (order by order). */
void gw_solve_inverse(const double *factor, size_t order, double *inverse);

#endif
