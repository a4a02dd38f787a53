package predict

import "math"

// normal holds the sums of a weighted least-squares fit: a = sum w x x', b = sum
// w x y. Only the lower triangle of a is kept true.
type normal struct {
	p    int
	a, b []float64
}

func newNormal(p int) normal { return normal{p, make([]float64, p*p), make([]float64, p)} }

func (n *normal) add(x []float64, y, w float64) {
	for i, xi := range x {
		wx := w * xi
		n.b[i] += wx * y
		row := n.a[i*n.p : i*n.p+i+1]
		for j := range row {
			row[j] += wx * x[j]
		}
	}
}

// minus sets n to a minus b.
func (n *normal) minus(a, b *normal) {
	for i := range n.a {
		n.a[i] = a.a[i] - b.a[i]
	}
	for i := range n.b {
		n.b[i] = a.b[i] - b.b[i]
	}
}

func (n *normal) plus(o *normal) {
	for i := range n.a {
		n.a[i] += o.a[i]
	}
	for i := range n.b {
		n.b[i] += o.b[i]
	}
}

// solution is a fit shrunk to a prior: the coefficients and the Cholesky factor
// of their precision, by which their uncertainty is known.
type solution struct {
	p    int
	beta []float64
	l    []float64 // lower triangle
}

// solve returns the posterior mean of the coefficients of y = x beta + e, with
// unit error variance, given the sums n and independent normal priors with mean
// m and precision q:
//
//	beta = (A + Q)^-1 (b + Q m)
//
// Every q must be positive; the matrix is then positive definite.
func (n *normal) solve(m, q []float64, s *solution) {
	p := n.p
	if s.p != p {
		*s = solution{p, make([]float64, p), make([]float64, p*p)}
	}
	copy(s.l, n.a)
	for i := range p {
		s.l[i*p+i] += q[i]
		s.beta[i] = n.b[i] + q[i]*m[i]
	}
	for j := range p {
		rj := s.l[j*p : j*p+j+1]
		for k := range j {
			rj[j] -= rj[k] * rj[k]
		}
		if !(rj[j] > 0) {
			panic("predict: solve: matrix not positive definite")
		}
		rj[j] = math.Sqrt(rj[j])
		for i := j + 1; i < p; i++ {
			ri := s.l[i*p : i*p+j+1]
			v := ri[j]
			for k := range j {
				v -= ri[k] * rj[k]
			}
			ri[j] = v / rj[j]
		}
	}
	s.forward(s.beta)
	for i := p - 1; i >= 0; i-- { // L' beta = z
		v := s.beta[i]
		for k := i + 1; k < p; k++ {
			v -= s.l[k*p+i] * s.beta[k]
		}
		s.beta[i] = v / s.l[i*p+i]
	}
}

// forward solves L z = v in place.
func (s *solution) forward(v []float64) {
	p := s.p
	for i := range p {
		r := s.l[i*p : i*p+i+1]
		z := v[i]
		for k := range i {
			z -= r[k] * v[k]
		}
		v[i] = z / r[i]
	}
}

func (s *solution) value(x []float64) float64 {
	v := 0.0
	for i, b := range s.beta {
		v += b * x[i]
	}
	return v
}

// variance returns x' (A + Q)^-1 x: the variance of value(x) from not knowing
// the coefficients, for unit error variance. tmp has room for p numbers.
func (s *solution) variance(x, tmp []float64) float64 {
	tmp = tmp[:s.p]
	copy(tmp, x)
	s.forward(tmp)
	v := 0.0
	for _, z := range tmp {
		v += z * z
	}
	return v
}
