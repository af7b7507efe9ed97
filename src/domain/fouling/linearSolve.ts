/** Lower triangle L of a symmetric positive definite matrix, row by row: L Lᵀ = matrix. @throws RangeError when it is not. */
export function cholesky(matrix: Float64Array, size: number): Float64Array {
  const lower = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i * size + j]!;
      for (let k = 0; k < j; k++) sum -= lower[i * size + k]! * lower[j * size + k]!;
      if (i === j) {
        if (!(sum > 0)) throw new RangeError('Matrix is not positive definite');
        lower[i * size + i] = Math.sqrt(sum);
      } else {
        lower[i * size + j] = sum / lower[j * size + j]!;
      }
    }
  }
  return lower;
}

/** L⁻¹ v. */
function forwardSolve(lower: Float64Array, size: number, v: ArrayLike<number>): Float64Array {
  const out = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    let sum = v[i]!;
    for (let k = 0; k < i; k++) sum -= lower[i * size + k]! * out[k]!;
    out[i] = sum / lower[i * size + i]!;
  }
  return out;
}

/** (L Lᵀ)⁻¹ v. */
export function choleskySolve(lower: Float64Array, size: number, v: ArrayLike<number>): Float64Array {
  const out = forwardSolve(lower, size, v);
  for (let i = size - 1; i >= 0; i--) {
    let sum = out[i]!;
    for (let k = i + 1; k < size; k++) sum -= lower[k * size + i]! * out[k]!;
    out[i] = sum / lower[i * size + i]!;
  }
  return out;
}

/** Inverse of L Lᵀ, row by row. */
export function choleskyInverse(lower: Float64Array, size: number): Float64Array {
  const out = new Float64Array(size * size);
  const unit = new Float64Array(size);
  for (let j = 0; j < size; j++) {
    unit.fill(0);
    unit[j] = 1;
    out.set(choleskySolve(lower, size, unit), j * size);
  }
  return out;
}
