#include "measure/solve.h"

#include "base/lanes.h"

#include <math.h>

GW_WIDE bool gw_solve_factor(double *matrix, size_t order, double least) {
    for (size_t i = 0; i < order; i++) {
        double *row = matrix + i * order;
        for (size_t j = 0; j < i; j++) {
            const double *above = matrix + j * order;
            row[j] = (row[j] - gw_lanes_dot(row, above, j)) / above[j];
        }
        double diagonal = row[i];
        double pivot = diagonal - gw_lanes_dot(row, row, i);
        if (!(pivot > least * diagonal) || !(pivot > 0))
            return false;
        row[i] = sqrt(pivot);
    }
    return true;
}

GW_WIDE void gw_solve_forward(const double *factor, size_t order, double *vector) {
    for (size_t i = 0; i < order; i++) {
        const double *row = factor + i * order;
        vector[i] = (vector[i] - gw_lanes_dot(row, vector, i)) / row[i];
    }
}

GW_WIDE void gw_solve_forward_all(const double *factor, size_t order, double (*vectors)[GW_SOLVED_AT_ONCE]) {
    for (size_t i = 0; i < order; i++) {
        const double *row = factor + i * order;
        gw_lanes low = GW_LANES_AT(vectors[i]), high = GW_LANES_AT(vectors[i] + 4);
        for (size_t k = 0; k < i; k++) {
            const gw_lanes by = {row[k], row[k], row[k], row[k]};
            low -= by * GW_LANES_AT(vectors[k]);
            high -= by * GW_LANES_AT(vectors[k] + 4);
        }
        const gw_lanes by = {row[i], row[i], row[i], row[i]};
        *(gw_lanes *)vectors[i] = low / by;
        *(gw_lanes *)(vectors[i] + 4) = high / by;
    }
}

GW_WIDE void gw_solve_back(const double *factor, size_t order, double *vector) {
    gw_solve_forward(factor, order, vector);
    for (size_t i = order; i-- > 0;) {
        const double *row = factor + i * order;
        vector[i] /= row[i];
        double done = vector[i];
        for (size_t j = 0; j < i; j++)
            vector[j] -= row[j] * done;
    }
}

GW_WIDE void gw_solve_inverse(const double *factor, size_t order, double *inverse) {
    /* row i of `inverse` first holds column i of L⁻¹, reversed in role: W[i][j] = (L⁻¹)[j][i], j >= i */
    for (size_t i = 0; i < order; i++) {
        double *column = inverse + i * order;
        for (size_t j = 0; j < i; j++)
            column[j] = 0;
        for (size_t j = i; j < order; j++) {
            const double *row = factor + j * order;
            double unit = j == i ? 1.0 : 0.0;
            column[j] = (unit - gw_lanes_dot(row + i, column + i, j - i)) / row[j];
        }
    }
    /* (L·Lᵀ)⁻¹ [i][j] = Σ_k W[i][k]·W[j][k]; filled so that no value still needed is overwritten */
    for (size_t i = 0; i < order; i++)
        for (size_t j = i; j < order; j++) {
            double sum = gw_lanes_dot(inverse + i * order + j, inverse + j * order + j, order - j);
            inverse[i * order + j] = sum;
        }
    for (size_t i = 0; i < order; i++)
        for (size_t j = 0; j < i; j++)
            inverse[i * order + j] = inverse[j * order + i];
}
