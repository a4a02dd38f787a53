// Sentences of the program, set for a narrow screen: a number is not parted from
// its unit, and a night's two dates are joined by a dash.

const units = '%|°F|°C|K|mph|m/s|km/h|gpm(?:/ac)?|mm(?:/h)?|cm|in|ft|h|hours?|ac|ha|gal';
const parted = new RegExp(`(\\d) (?=(?:${units})(?![\\w/]))`, 'g');
const night = /\b([A-Z][a-z]{2} \d{1,2}(?: [A-Z][a-z]{2})?) - (?=[A-Z][a-z]{2} \d)/g;

// Where a sentence names a command, the page has a place for it.
const commands: [string, string][] = [['run `budward stage record`', 'record its stage']];
const here = (text: string): string => commands.reduce((t, [from, to]) => t.replaceAll(from, to), text);

export const prose = (text: string): string => here(text).replaceAll(' degC', ' °C').replace(night, '$1 \u2013 ').replace(parted, '$1\u00a0');
