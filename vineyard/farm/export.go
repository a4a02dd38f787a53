package farm

import (
	"bytes"
	"encoding/csv"
)

// ExportCSV writes a farm as the files ImportCSV reads, in metric units with
// every value written out in full: what is read back is the same farm. Floors
// go to strips.csv, defaults to defaults.csv, so that what was once taken for
// want of better stays marked.
func ExportCSV(f Farm) map[string]string {
	stations := make([]stationRow, len(f.Stations))
	for i, s := range f.Stations {
		stations[i].s = s
	}
	blocks := make([]blockRow, len(f.Blocks))
	var strips []stripRow
	for i, b := range f.Blocks {
		blocks[i].b = b
		for _, s := range b.Strips {
			strips = append(strips, stripRow{block: b.ID, s: s})
		}
	}
	out := map[string]string{
		FarmFile:     writeTable([]Farm{f}, farmColumns()),
		StationsFile: writeTable(stations, stationColumns()),
		BlocksFile:   writeTable(blocks, blockColumns()),
		StripsFile:   writeTable(strips, stripColumns()),
	}
	if len(f.Sources) > 0 {
		out[SourcesFile] = writeTable(f.Sources, sourceColumns())
	}
	if len(f.Equipment) > 0 {
		out[EquipmentFile] = writeTable(f.Equipment, equipmentColumns())
	}
	if len(f.People) > 0 {
		out[PeopleFile] = writeTable(f.People, personColumns())
	}
	if len(f.Defaults) > 0 {
		out[DefaultsFile] = writeTable(f.Defaults, defaultColumns())
	}
	return out
}

func writeTable[T any](rows []T, cols []column[T]) string {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	put := func(cells []string) {
		if err := w.Write(cells); err != nil {
			panic("farm: writing CSV to memory failed: " + err.Error())
		}
	}
	var header []string
	for _, c := range cols {
		if c.write != nil {
			header = append(header, c.name)
		}
	}
	put(header)
	for i := range rows {
		cells := make([]string, 0, len(header))
		for _, c := range cols {
			if c.write != nil {
				cells = append(cells, c.write(&rows[i]))
			}
		}
		put(cells)
	}
	w.Flush()
	return b.String()
}

// Template returns the files of a small invented farm, ready to be written over
// with one's own. It imports without a problem; every column a grower would
// fill is there once.
func Template() map[string]string {
	return map[string]string{
		FarmFile: "id,name,zone,lat,lon,elevation,currency,worst_loss,labour,hands_tonight\n" +
			"quillby,Quillby Bench,America/Los_Angeles,38.62N,121.31W,120ft,USD,40%,26/h,3\n",
		StationsFile: "id,name,lat,lon,elevation,sensor_height,wind_height,shelter,surroundings,surroundings_moisture,soil\n" +
			"gate,Gate station,38.621N,121.312W,118ft,5ft,10ft,screen,cover 4in,moist,loam\n",
		BlocksFile: "id,name,area,cultivar,pruning,nodes_kept,cordon_height,row_spacing,vine_spacing,crop,price,cold_spot,station," +
			"soil,undervine_share,undervine_floor,undervine_moisture,middle_floor,middle_moisture," +
			"system,source,rate,wet_share,emitter_flow,emitter_spacing,emitter_row_spacing,line_fill,uniformity,energy_cost,protection\n" +
			"B1,Lower bench,12ac,Chardonnay,spur,30,36in,8ft,6ft,4ton/ac,900/ton,1.5F,gate," +
			"loam,30%,bare firm,moist,mown 2in,slightly moist," +
			"drip,well,8.7gpm/ac,35%,0.58gph,6ft,8ft,45min,88%,9/h,fan1\n" +
			"B2,Upper bench,8ac,Thompson Seedless,cane,90,4.5ft,12ft,7ft,9ton/ac,320/ton,0.5F,gate," +
			"sandy loam,25%,bare firm,18%,disked 4in,dry," +
			"furrow,canal,60gpm/ac,50%,,,,2h,70%,4/h,\n",
		SourcesFile: "id,name,flow,water_temp,cost,frost_use\n" +
			"well,Deep well,400gpm,62F,0.06/m3,yes\n" +
			"canal,Canal turn,900gpm,50F,45/acft,no\n",
		EquipmentFile: "id,name,kind,area,count,power,cost\n" +
			"fan1,Bench fan,fan,10ac,1,70kW,38/h\n",
		PeopleFile: "id,name,phone,mail,units,night\n" +
			"ines,Ines,555-0101,ines@quillby.example,us,yes\n",
	}
}
