package farm

import (
	"sort"
	"strings"
)

// BurstClass is how early a cultivar's buds open beside others at one place.
type BurstClass string

const (
	BurstEarly BurstClass = "early"
	BurstMid   BurstClass = "mid"
	BurstLate  BurstClass = "late"
)

// ShareRange is a share with the bounds of what is known about it.
type ShareRange struct {
	Low     float64 `json:"low"`
	Central float64 `json:"central"`
	High    float64 `json:"high"`
}

// Cultivar is what the register knows about one cultivar.
type Cultivar struct {
	Name    string     `json:"name"`
	Aliases []string   `json:"aliases,omitempty"`
	Species Species    `json:"species"`
	Use     Use        `json:"use"` // the most common one
	Burst   BurstClass `json:"burst"`
	// Secondary, Tertiary: yield of a shoot from a secondary or tertiary bud as
	// a share of one from a primary.
	Secondary       ShareRange `json:"secondary"`
	Tertiary        ShareRange `json:"tertiary"`
	SecondarySource string     `json:"secondary_source"`
	Seedless        bool       `json:"seedless"`
	// PoorBasal: the nodes nearest the base of a cane bear little.
	PoorBasal bool `json:"poor_basal"`
}

// What secondaries and tertiaries give. Chardonnay: Friend et al. (2011) [READ,
// abstract]: 32 % of the primaries' yield. Concord and Niagara: Howell [READ]:
// about 35 %, tertiaries leaf only. General: 0.3 to 0.5, tertiaries 0 to 0.1
// [READ Rieger 2012 "some reach 50 %", and derived]. Hybrids "often bear on
// secondaries" [READ, Martinson 2015]: the numbers are a guess of our own.
var (
	secondaryChardonnay = ShareRange{0.25, 0.32, 0.40}
	secondaryLabrusca   = ShareRange{0.30, 0.35, 0.40}
	secondaryGeneral    = ShareRange{0.30, 0.40, 0.50}
	secondaryHybrid     = ShareRange{0.40, 0.55, 0.70}
	secondarySeedless   = ShareRange{0.10, 0.25, 0.40}
	tertiaryGeneral     = ShareRange{0, 0.05, 0.10}
	tertiaryNone        = ShareRange{}
)

const (
	sourceChardonnay = "Friend et al. (2011): 32 %; the range is a guess of our own"
	sourceLabrusca   = "Howell: about 35 % for Concord and Niagara; the range is a guess of our own"
	sourceGeneral    = "general range 30-50 % (Rieger 2012)"
	sourceHybrid     = "hybrids often bear on secondaries (Martinson 2015); the numbers are a guess of our own"
	sourceSeedless   = "a guess of our own, below the general range"
)

// register holds species, use and earliness from common knowledge of the trade
// [MEMORY]; earliness is beside other cultivars at the same place.
var register = buildRegister()

func buildRegister() []Cultivar {
	var out []Cultivar
	add := func(sp Species, use Use, burst BurstClass, names ...string) {
		for _, n := range names {
			parts := strings.Split(n, "|")
			c := Cultivar{Name: parts[0], Aliases: parts[1:], Species: sp, Use: use, Burst: burst,
				Secondary: secondaryGeneral, Tertiary: tertiaryGeneral, SecondarySource: sourceGeneral}
			switch {
			case c.Name == "Chardonnay":
				c.Secondary, c.SecondarySource = secondaryChardonnay, sourceChardonnay
			case sp == Labrusca:
				c.Secondary, c.Tertiary, c.SecondarySource = secondaryLabrusca, tertiaryNone, sourceLabrusca
			case sp == Hybrid:
				c.Secondary, c.SecondarySource = secondaryHybrid, sourceHybrid
			}
			out = append(out, c)
		}
	}
	add(Vinifera, Wine, BurstEarly, "Chardonnay", "Pinot Noir|Spätburgunder|Blauburgunder", "Pinot Gris|Pinot Grigio|Grauburgunder",
		"Pinot Blanc|Weissburgunder", "Pinot Meunier|Meunier", "Gewürztraminer|Traminer", "Albariño|Alvarinho", "Nebbiolo", "Viognier")
	add(Vinifera, Wine, BurstMid, "Merlot", "Cabernet Franc", "Malbec|Cot", "Syrah|Shiraz", "Zinfandel|Primitivo", "Riesling",
		"Sauvignon Blanc|Fumé Blanc", "Sémillon", "Grenache|Garnacha|Grenache Noir", "Tempranillo", "Sangiovese", "Barbera",
		"Chenin Blanc", "Gamay", "Lemberger|Blaufränkisch", "Grüner Veltliner", "Petite Sirah|Durif", "Muscat Blanc|Muscat Canelli",
		"French Colombard|Colombard", "Saperavi", "Rkatsiteli")
	add(Vinifera, Wine, BurstLate, "Cabernet Sauvignon", "Petit Verdot", "Mourvèdre|Monastrell|Mataro", "Carignan|Carignane|Cariñena",
		"Ugni Blanc|Trebbiano", "Rubired")
	add(Vinifera, Table, BurstMid, "Red Globe")
	add(Labrusca, Juice, BurstEarly, "Concord", "Niagara")
	add(Labrusca, Juice, BurstMid, "Catawba", "Delaware", "Isabella")
	add(Hybrid, Wine, BurstEarly, "Marquette", "Frontenac", "Frontenac Gris", "La Crescent", "Maréchal Foch|Foch",
		"Léon Millot", "L'Acadie Blanc|L'Acadie", "Brianna", "Itasca", "Petite Pearl")
	add(Hybrid, Wine, BurstMid, "Seyval Blanc|Seyval", "Vidal Blanc|Vidal", "Chambourcin", "Traminette", "Cayuga White|Cayuga",
		"Vignoles", "Chardonel", "Baco Noir", "Norton|Cynthiana", "De Chaunac", "St. Croix|Saint Croix")
	for _, s := range []struct {
		name string
		use  Use
		b    BurstClass
	}{
		{"Thompson Seedless|Sultana|Sultanina", Raisin, BurstMid}, {"Fiesta", Raisin, BurstMid}, {"Selma Pete", Raisin, BurstMid},
		{"DOVine", Raisin, BurstEarly}, {"Black Corinth|Zante Currant", Raisin, BurstEarly},
		{"Flame Seedless|Flame", Table, BurstEarly}, {"Crimson Seedless|Crimson", Table, BurstMid}, {"Perlette", Table, BurstEarly},
		{"Ruby Seedless", Table, BurstMid}, {"Autumn Royal", Table, BurstMid},
	} {
		add(Vinifera, s.use, s.b, s.name)
		c := &out[len(out)-1]
		c.Seedless, c.PoorBasal = true, true
		c.Secondary, c.SecondarySource = secondarySeedless, sourceSeedless
	}
	return out
}

// generalCultivar is what an unknown name gets: no species, so that no table
// is taken as if it were known.
var generalCultivar = Cultivar{Use: Wine, Burst: BurstMid, Secondary: ShareRange{0.1, 0.4, 0.7}, Tertiary: tertiaryGeneral,
	SecondarySource: "cultivar unknown: the general 30-50 % widened to all the register holds"}

var registerIndex = buildIndex()

func buildIndex() map[string]int {
	ix := map[string]int{}
	for i, c := range register {
		for _, n := range append([]string{c.Name}, c.Aliases...) {
			ix[foldName(n)] = i
		}
	}
	return ix
}

// accents folds what the register and growers write differently.
var accents = strings.NewReplacer("é", "e", "è", "e", "ê", "e", "ü", "u", "ö", "o", "ä", "a", "ñ", "n", "í", "i", "á", "a", "ó", "o",
	"'", "", "’", "", ".", "", "-", " ", "_", " ")

func foldName(s string) string {
	return strings.Join(strings.Fields(accents.Replace(strings.ToLower(s))), " ")
}

// LookupCultivar finds a cultivar by name or alias; case, accents and spacing
// do not matter. For an unknown name it returns general values without a
// species, and false: the caller must flag it.
func LookupCultivar(name string) (Cultivar, bool) {
	i, ok := registerIndex[foldName(name)]
	if !ok {
		c := generalCultivar
		c.Name = name
		return c, false
	}
	c := register[i]
	c.Aliases = append([]string(nil), c.Aliases...)
	return c, true
}

// Cultivars lists the register by name.
func Cultivars() []Cultivar {
	out := append([]Cultivar(nil), register...)
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}
