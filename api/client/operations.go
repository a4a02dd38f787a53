package client

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

const head = `// Written by "go generate ./api" from the OpenAPI document of the program. Do not
// change it by hand: a test compares it with what the program would write.

`

// runtime is what all operations share.
const runtime = `/** Problem is an answer that says why there is none. */
export class Problem extends Error {
  readonly status: number;
  /** As the program sent it; null when what came was no problem document. */
  readonly document: ErrorModel | null;
  /** Seconds after which to try again, where the program says so. */
  readonly retryAfter: number | null;

  constructor(response: Response, document: ErrorModel | null) {
    super(document?.detail ?? document?.title ?? ` + "`HTTP ${response.status}`" + `);
    this.name = 'Problem';
    this.status = response.status;
    this.document = document;
    const wait = Number(response.headers.get('Retry-After') ?? NaN);
    this.retryAfter = Number.isFinite(wait) ? wait : null;
  }

  /** The last part of the problem's type, such as "not-found". */
  get kind(): string {
    return this.document?.type?.split('#')[1] ?? '';
  }

  /** What is wrong with one part of the request, such as "body.strips[0].surface". */
  about(location: string): string | undefined {
    return this.document?.errors?.find((e) => e.location === location)?.message;
  }
}

type Value = string | number | boolean | null | undefined;

function address(base: string, path: string, query: Record<string, Value>): string {
  const q = new URLSearchParams();
  for (const [name, value] of Object.entries(query)) {
    if (value !== undefined && value !== null) q.set(name, String(value));
  }
  const text = q.toString();
  return base + path + (text === '' ? '' : '?' + text);
}

async function problem(response: Response): Promise<Problem> {
  let document: ErrorModel | null = null;
  if (response.headers.get('Content-Type')?.startsWith('application/problem+json')) {
    document = (await response.json().catch(() => null)) as ErrorModel | null;
  }
  return new Problem(response, document);
}

export interface Settings {
  /** Put before every path; '' = the page's own server. */
  base?: string;
  fetch?: typeof fetch;
}

/** client asks the program. Every call throws a Problem when the program says no,
 * and what fetch throws when it cannot be reached. */
export function client(settings: Settings = {}) {
  const base = settings.base ?? '';
  const call = settings.fetch ?? ((input: RequestInfo | URL, init?: RequestInit) => fetch(input, init));

  async function ask<T>(method: string, path: string, query: Record<string, Value>, body: BodyInit | null, type: string | null, init?: RequestInit): Promise<T> {
    const headers = new Headers(init?.headers);
    headers.set('Accept', 'application/json');
    if (type !== null) headers.set('Content-Type', type);
    const response = await call(address(base, path, query), { ...init, method, headers, body });
    if (!response.ok) throw await problem(response);
    return (response.status === 204 ? undefined : await response.json()) as T;
  }

  return {
`

func writeOperations(b *strings.Builder, paths map[string]map[string]operation) error {
	files := ""
	for _, path := range slices.Sorted(maps.Keys(paths)) {
		for _, method := range slices.Sorted(maps.Keys(paths[path])) {
			o := paths[path][method]
			text, isFile, err := call(path, method, o)
			if err != nil {
				return fmt.Errorf("client: %s %s: %w", method, path, err)
			}
			if isFile {
				files += text
				continue
			}
			b.WriteString(text)
		}
	}
	b.WriteString("  };\n}\n\n/** files are the addresses of what is for people and other programs, for links. */\nexport const files = {\n")
	b.WriteString(files)
	b.WriteString("};\n")
	return nil
}

// call writes one operation: a function that asks, or one that gives the address
// of a file.
func call(path, method string, o operation) (text string, isFile bool, err error) {
	args, query, err := arguments(o.Parameters)
	if err != nil {
		return "", false, err
	}
	result, isFile, err := resultOf(o)
	if err != nil {
		return "", false, err
	}
	var b strings.Builder
	if isFile {
		comment(&b, "  ", o.Summary)
		fmt.Fprintf(&b, "  %s: (%s): string => address('', %s, %s),\n", camel(o.ID), strings.Join(args, ", "), template(path), query)
		return b.String(), true, nil
	}
	body, kind := "null", "null"
	if o.Body != nil {
		bodyType := "BodyInit"
		body, kind = "body", "'application/octet-stream'"
		if m, ok := o.Body.Content["application/json"]; ok {
			if bodyType, err = typeOf(m.Schema, "  "); err != nil {
				return "", false, err
			}
			body, kind = "JSON.stringify(body)", "'application/json'"
		}
		args = append(args, "body: "+bodyType)
	}
	args = append(args, "init?: RequestInit")
	comment(&b, "    ", o.Summary)
	fmt.Fprintf(&b, "    %s: (%s): Promise<%s> =>\n      ask('%s', %s, %s, %s, %s, init),\n", camel(o.ID), strings.Join(args, ", "), result,
		strings.ToUpper(method), template(path), query, body, kind)
	return b.String(), false, nil
}

// arguments writes the parameters as one object, and the query made of them.
func arguments(ps []parameter) (args []string, query string, err error) {
	if len(ps) == 0 {
		return nil, "{}", nil
	}
	var members, names []string
	needed := false
	for _, p := range ps {
		if !plainName.MatchString(p.Name) || p.In != "path" && p.In != "query" {
			return nil, "", fmt.Errorf("parameter %q in %s", p.Name, p.In)
		}
		t, err := typeOf(p.Schema, "  ")
		if err != nil {
			return nil, "", err
		}
		mark := "?"
		if p.Required || p.In == "path" {
			mark, needed = "", true
		}
		members = append(members, p.Name+mark+": "+t)
		if p.In == "query" {
			names = append(names, p.Name+": of."+p.Name)
		}
	}
	arg := "of: { " + strings.Join(members, "; ") + " }"
	if !needed {
		arg += " = {}"
	}
	query = "{}"
	if names != nil {
		query = "{ " + strings.Join(names, ", ") + " }"
	}
	return []string{arg}, query, nil
}

// resultOf is the type of a good answer; an answer that is not JSON is a file.
func resultOf(o operation) (result string, isFile bool, err error) {
	for _, status := range slices.Sorted(maps.Keys(o.Responses)) {
		if status[0] != '2' {
			continue
		}
		r := o.Responses[status]
		if len(r.Content) == 0 {
			return "void", false, nil
		}
		m, ok := r.Content["application/json"]
		if !ok {
			return "", true, nil
		}
		result, err = typeOf(m.Schema, "  ")
		return result, false, err
	}
	return "", false, fmt.Errorf("no good answer is described")
}

var hole = regexp.MustCompile(`\{([a-z]+)\}`)

// template writes a path with its parameters put in.
func template(path string) string {
	if !hole.MatchString(path) {
		return "'" + path + "'"
	}
	return "`" + hole.ReplaceAllString(path, "$${encodeURIComponent(of.$1)}") + "`"
}

// camel writes what-if as whatIf.
func camel(id string) string {
	parts := strings.Split(id, "-")
	for i := range parts[1:] {
		parts[i+1] = strings.ToUpper(parts[i+1][:1]) + parts[i+1][1:]
	}
	return strings.Join(parts, "")
}
