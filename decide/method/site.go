package method

import (
	"fmt"
	"math"
	"slices"

	"budward/physics/floor"
	"budward/physics/ground"
	"budward/vineyard/farm"
)

// RootZoneM is the depth that holds the heat of a night: daily waves hardly
// pass below 0.3 m, and refills are reckoned over it.
const RootZoneM = 0.3

// SurfaceOf turns a farm's words for a floor into physics.
func SurfaceOf(s farm.Strip) (floor.Surface, error) {
	switch s.Surface {
	case farm.BareFirm:
		return floor.Bare(), nil
	case farm.Disked:
		return floor.Loosened(s.DepthM)
	case farm.Cover:
		return floor.Covered(s.HeightM)
	case farm.Residue:
		return floor.Residue(s.HeightM)
	}
	return floor.Surface{}, fmt.Errorf("strip %q: unknown surface %q", s.Name, s.Surface)
}

// column makes a column of soil at the given temperature profile with the
// strip's moisture in the top 0.3 m; below it, moisture goes over to field
// capacity at 1 m, as winter rain leaves it (common practice).
func column(soil ground.Soil, m farm.Moisture, tempC func(depthM float64) float64) (*ground.Column, error) {
	dz := ground.Layers(ground.DefaultLayers, ground.DefaultTopM, ground.DefaultBottomM)
	c, err := ground.NewColumn(dz, soil, 10, soil.FieldCapacity)
	if err != nil {
		return nil, err
	}
	for i := range c.N {
		w := m.Value
		if z := c.Depth[i]; z > RootZoneM {
			w += (soil.FieldCapacity - w) * math.Min(1, (z-RootZoneM)/0.7)
		}
		if err := c.SetWater(i, math.Min(w, soil.Porosity)); err != nil {
			return nil, err
		}
	}
	c.SetTemp(tempC)
	return c, nil
}

// Reference is a station's own floor, driven by its weather: once with air at
// sensor height, which tells the profile, and once for each cordon height with
// the air that the profile carries there, which is what blocks are held
// against. A block with the station's floor then gains exactly nothing.
type Reference struct {
	Strip   *floor.Strip // under air at sensor height
	SensorM float64
	CordonM []float64
	cordon  []*floor.Strip
}

// RefStep is the reference floor at one step and one cordon height.
type RefStep struct {
	CordonC  float64 // the station's air carried to cordon height, degC
	Sensible float64 // W/m2, upward, of the floor under that air
	Profile  float64 // W/m2, upward, of the floor under the air at sensor height
}

// Height returns the index of a cordon height that the reference was made for.
func (r *Reference) Height(cordonM float64) int {
	for i, h := range r.CordonM {
		if h == cordonHeight(cordonM) {
			return i
		}
	}
	panic("method: a cordon height that the reference was not made for")
}

// cordonHeight is a block's cordon height to the nearest 5 cm, at least 0.3 m:
// the reference is run for each that occurs.
func cordonHeight(m float64) float64 { return math.Max(0.3, math.Round(m*20)/20) }

// NewReference lays out the surroundings of a station for the cordon heights
// that occur among its blocks.
func NewReference(st farm.Station, cordonM []float64, tempC func(depthM float64) float64) (*Reference, error) {
	soil, _, err := st.Soil.Resolve()
	if err != nil {
		return nil, fmt.Errorf("station %s: %w", st.ID, err)
	}
	su, err := SurfaceOf(st.Surroundings)
	if err != nil {
		return nil, fmt.Errorf("station %s: %w", st.ID, err)
	}
	lay := func(airAtM float64) (*floor.Strip, error) {
		c, err := column(soil, st.Surroundings.Moisture, tempC)
		if err != nil {
			return nil, fmt.Errorf("station %s: %w", st.ID, err)
		}
		return floor.NewStrip(su, c, airAtM, floor.DefaultExchange()), nil
	}
	r := &Reference{SensorM: math.Max(st.SensorHeightM, 0.3)}
	if r.Strip, err = lay(r.SensorM); err != nil {
		return nil, err
	}
	for _, m := range cordonM {
		h := cordonHeight(m)
		if slices.Contains(r.CordonM, h) {
			continue
		}
		s, err := lay(h)
		if err != nil {
			return nil, err
		}
		r.CordonM, r.cordon = append(r.CordonM, h), append(r.cordon, s)
	}
	return r, nil
}

// Run drives the reference floor through steps and returns, by cordon height,
// what blocks need.
func (r *Reference) Run(steps []floor.Weather) [][]RefStep {
	out := make([][]RefStep, len(r.CordonM))
	for h := range out {
		out[h] = make([]RefStep, len(steps))
	}
	none := floor.Supply{}
	tr := floor.Transfer{FromM: r.SensorM, RoughnessM: r.Strip.Surface.RoughnessM}
	for i := range steps {
		w := steps[i]
		f := r.Strip.Step(&w, &none, StepS)
		tr.Sensible, tr.WindMS, tr.AirC, tr.Pressure = f.Sensible, w.WindMS, w.AirC, w.Pressure
		for h := range r.cordon {
			at := w
			tr.ToM = r.CordonM[h]
			at.AirC += tr.DifferenceK()
			g := r.cordon[h].Step(&at, &none, StepS)
			out[h][i] = RefStep{CordonC: at.AirC, Sensible: g.Sensible, Profile: f.Sensible}
		}
	}
	return out
}

// Clone returns an independent copy.
func (r *Reference) Clone() *Reference {
	c := *r
	c.Strip = r.Strip.Clone()
	c.cordon = make([]*floor.Strip, len(r.cordon))
	for i := range c.cordon {
		c.cordon[i] = r.cordon[i].Clone()
	}
	return &c
}

// Site is the floor of a block: the block's strips, and beside each a twin
// patch, at first of no area, that takes up the part of the strip that gets
// wetted.
type Site struct {
	Block   farm.Block
	Soil    ground.Soil
	Floor   floor.Block
	CordonM float64
	Height  int // index of CordonM among the reference's

	Given Given // water given since Plan

	strips int
	fill   []int   // order in which strips get wetted
	ranH   float64 // hours of running behind the wetted share
	runs   []Run
	state  []runState
	step   int // since Plan
}

// NewSite lays out a block beside a station's reference floor.
func NewSite(b farm.Block, ref *Reference, tempC func(depthM float64) float64) (*Site, error) {
	soil, _, err := b.Soil.Resolve()
	if err != nil {
		return nil, fmt.Errorf("block %s: %w", b.ID, err)
	}
	s := &Site{Block: b, Soil: soil, CordonM: cordonHeight(b.CordonHeightM), Height: ref.Height(b.CordonHeightM), strips: len(b.Strips)}
	s.Floor.Mix = floor.DefaultMixing()
	s.Floor.FetchM = b.FetchM
	if s.Floor.FetchM <= 0 {
		if s.Floor.FetchM, err = floor.Fetch(b.AreaHa); err != nil {
			return nil, fmt.Errorf("block %s: %w", b.ID, err)
		}
	}
	for _, st := range b.Strips {
		su, err := SurfaceOf(st)
		if err != nil {
			return nil, fmt.Errorf("block %s: %w", b.ID, err)
		}
		c, err := column(soil, st.Moisture, tempC)
		if err != nil {
			return nil, fmt.Errorf("block %s, strip %s: %w", b.ID, st.Name, err)
		}
		s.Floor.Patches = append(s.Floor.Patches, floor.Patch{Strip: floor.NewStrip(su, c, s.CordonM, floor.DefaultExchange()), Share: st.Share})
	}
	for i := range s.strips {
		s.Floor.Patches = append(s.Floor.Patches, floor.Patch{Strip: s.Floor.Patches[i].Strip.Clone()})
	}
	s.order()
	return s, nil
}

// order lists the strips in the order in which the block's system wets them.
func (s *Site) order() {
	first := 0
	for i, st := range s.Block.Strips {
		if st.Name == s.Block.System.WetsStrip {
			first = i
		}
	}
	s.fill = []int{first}
	for i := range s.strips {
		if i != first {
			s.fill = append(s.fill, i)
		}
	}
}

// Clone returns an independent copy.
func (s *Site) Clone() *Site {
	c := *s
	c.state = append([]runState(nil), s.state...)
	c.Floor.Patches = append([]floor.Patch(nil), s.Floor.Patches...)
	for i := range c.Floor.Patches {
		c.Floor.Patches[i].Strip = s.Floor.Patches[i].Strip.Clone()
	}
	return &c
}

// CopyFrom makes s equal in state to o, a clone of the same block.
func (s *Site) CopyFrom(o *Site) {
	patches, state := s.Floor.Patches, s.state
	*s = *o
	s.state = append(state[:0], o.state...)
	s.Floor.Patches = patches
	for i := range patches {
		strip := patches[i].Strip
		patches[i] = o.Floor.Patches[i]
		patches[i].Strip = strip
		if patches[i].Share > 0 || o.Floor.Patches[i].Strip == nil {
			strip.CopyFrom(o.Floor.Patches[i].Strip)
		} else {
			strip.Surface = o.Floor.Patches[i].Surface
		}
	}
}

// SetMoisture brings the mean water content of strip i's top 0.3 m to what was
// observed, keeping the shape of its profile; it reports whether the soil's
// porosity kept it from doing so wholly.
func (s *Site) SetMoisture(i int, value float64) (short bool) {
	c := s.Floor.Patches[i].Col
	for range 8 {
		mean := c.MeanWater(RootZoneM)
		if math.Abs(mean-value) < 1e-4 {
			break
		}
		for l := 0; l < c.N && c.Depth[l] < RootZoneM; l++ {
			w := math.Min(c.Water[l]*value/mean, c.Soil[l].Porosity)
			if err := c.SetWater(l, w); err != nil {
				panic("method: SetMoisture: " + err.Error())
			}
		}
	}
	c.Refresh()
	s.Floor.Patches[i].Rebase()
	return math.Abs(c.MeanWater(RootZoneM)-value) > 0.005
}

// Moisture returns the mean water content of strip i's top 0.3 m, dry and
// wetted parts together.
func (s *Site) Moisture(i int) float64 {
	dry, wet := &s.Floor.Patches[i], &s.Floor.Patches[s.strips+i]
	if dry.Share+wet.Share <= 0 {
		return dry.Col.MeanWater(RootZoneM)
	}
	return (dry.Share*dry.Col.MeanWater(RootZoneM) + wet.Share*wet.Col.MeanWater(RootZoneM)) / (dry.Share + wet.Share)
}

// WetShare returns the share of the block's floor that has been wetted.
func (s *Site) WetShare() float64 {
	w := 0.0
	for i := range s.strips {
		w += s.Floor.Patches[s.strips+i].Share
	}
	return w
}

// wetMoisture returns the mean water content of the wetted ground down to
// depthM.
func (s *Site) wetMoisture(depthM float64) float64 {
	sum, w := 0.0, 0.0
	for i := range s.strips {
		p := &s.Floor.Patches[s.strips+i]
		if p.Share > 0 {
			sum += p.Share * p.Col.MeanWater(depthM)
			w += p.Share
		}
	}
	if w == 0 {
		return 0
	}
	return sum / w
}

// widen brings the wetted share to target, strip by strip in filling order.
func (s *Site) widen(target float64) {
	left := target
	for _, i := range s.fill {
		whole := s.Floor.Patches[i].Share + s.Floor.Patches[s.strips+i].Share
		take := math.Min(left, whole)
		s.Floor.Grow(s.strips+i, i, take)
		left -= take
	}
}

// Mow makes every living cover taller than heightM that tall, and lays what was
// cut as it is: mown cover is counted as short cover, not as residue.
func (s *Site) Mow(heightM float64) (changed bool) {
	for i := range s.strips {
		st := s.Block.Strips[i]
		if st.Surface != farm.Cover || st.HeightM <= heightM {
			continue
		}
		su, err := floor.Covered(heightM)
		if err != nil {
			panic("method: Mow: " + err.Error())
		}
		s.Floor.Patches[i].Resurface(su, s.CordonM)
		s.Floor.Patches[s.strips+i].Resurface(su, s.CordonM)
		changed = true
	}
	return changed
}

// Lay puts other surfaces on the site's strips from now on: mown, covered,
// shredded or loosened; the soil keeps its heat and, by mass, its water.
func (s *Site) Lay(strips []farm.Strip) error {
	if len(strips) != s.strips {
		panic("method: Lay needs as many strips as the block has")
	}
	for i, st := range strips {
		su, err := SurfaceOf(st)
		if err != nil {
			return err
		}
		for _, p := range []*floor.Patch{&s.Floor.Patches[i], &s.Floor.Patches[s.strips+i]} {
			if su.LooseM > 0 && p.Surface.LooseM == 0 {
				p.Rebase() // the water under way settles before the soil is opened
				p.Strip = floor.NewStrip(su, p.Col, s.CordonM, p.Ex)
				continue
			}
			p.Resurface(su, s.CordonM)
		}
	}
	s.Block.Strips = append([]farm.Strip(nil), strips...)
	return nil
}
