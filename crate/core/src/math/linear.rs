//! Dense linear algebra: orthogonal factorisations and least squares.
