package server

const trustStyle = `<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><style>
:root{color-scheme:light dark;--paper:#f5f3ec;--ink:#16212c;--line:#c9c4b6}
@media(prefers-color-scheme:dark){:root{--paper:#11181e;--ink:#f1ede2;--line:#3a4650}}
body{margin:0 auto;max-width:36rem;padding:24px 16px 48px;background:var(--paper);color:var(--ink);font:17px/1.45 system-ui,sans-serif}
h1{font-size:1.6rem;line-height:1.25}h2{font-size:1.15rem;margin-top:2rem;border-top:1px solid var(--line);padding-top:1rem}
li{margin:.6rem 0}code{display:block;font:700 1.15rem/1.7 ui-monospace,monospace;overflow-wrap:anywhere}
.go{display:grid;place-items:center;min-height:64px;margin:1rem 0;padding:8px 16px;border:2px solid;border-radius:4px;background:var(--ink);color:var(--paper);font-weight:700;text-decoration:none;text-align:center}
</style>`

// trustPage is the helper page by language. Its values: fingerprint, address of the application, name of the authority.
var trustPage = map[string]string{
	"en": `<!doctype html><html lang="en"><title>Trust this computer - Proofbell</title>` + trustStyle + `
<main><h1>Before this phone can work offline it has to trust the computer</h1>
<p>A browser keeps pages for a cellar without a signal only when they came over a connection that it trusts. On a local network nobody else vouches for that computer, so it vouches for itself with a certificate of its own.</p>
<ol><li>Compare: the page of the lead shows the same fingerprint. Where one group differs, stop.<code>%[1]s</code></li>
<li><a class="go" href="/proofbell-authority.crt">Fetch the certificate</a>Its name is "%[3]s".</li>
<li>Install it: in the settings of the phone, search for "certificate", choose to install one of a certificate authority (CA), and choose the file. Some phones ask for the screen lock. Some then want it switched on in a second place, among the trusted certificates: full trust for this one.</li>
<li><a class="go" href="%[2]s/pair">Open Proofbell on that computer</a>No warning may appear. When one does, the certificate is not trusted yet: do not go past it, because nothing works offline then.</li></ol>
<h2>What trusting means</h2>
<p>This phone then believes the holder of that certificate's key when it names an address of a local network: 10.x, 172.16 to 172.31, 192.168.x, link-local addresses, and names that end in .local, .internal or home.arpa. The certificate itself forbids everything else, so it can not stand in for a place on the internet. The key stays on that computer, in the data folder.</p>
<h2>How to take it back</h2>
<p>In the same settings, among the certificates that you installed yourself, remove "%[3]s". Do it when the work with that computer is over, or when the computer was lost.</p></main></html>`,
	"de": `<!doctype html><html lang="de"><title>Diesem Computer vertrauen - Proofbell</title>` + trustStyle + `
<main><h1>Damit dieses Telefon ohne Netz arbeitet, muss es dem Computer vertrauen</h1>
<p>Ein Browser behält Seiten für den Keller ohne Netz nur, wenn sie über eine Verbindung kamen, der er vertraut. In einem lokalen Netz bürgt niemand sonst für diesen Computer, also bürgt er mit einem eigenen Zertifikat für sich selbst.</p>
<ol><li>Vergleichen: Die Seite der Leitung zeigt denselben Fingerabdruck. Weicht eine Gruppe ab: aufhören.<code>%[1]s</code></li>
<li><a class="go" href="/proofbell-authority.crt">Zertifikat holen</a>Sein Name ist „%[3]s“.</li>
<li>Installieren: in den Einstellungen des Telefons nach „Zertifikat“ suchen, ein Zertifikat einer Zertifizierungsstelle (CA) installieren und die Datei wählen. Manche Telefone fragen nach der Bildschirmsperre. Manche wollen es danach an einer zweiten Stelle eingeschaltet haben, bei den vertrauten Zertifikaten: volles Vertrauen für dieses eine.</li>
<li><a class="go" href="%[2]s/pair">Proofbell auf diesem Computer öffnen</a>Es darf keine Warnung erscheinen. Erscheint eine, ist das Zertifikat noch nicht vertraut: nicht darüber hinweggehen, denn dann geht ohne Netz nichts.</li></ol>
<h2>Was das Vertrauen heißt</h2>
<p>Dieses Telefon glaubt dann dem, der den Schlüssel dieses Zertifikats hat, wenn er eine Adresse eines lokalen Netzes nennt: 10.x, 172.16 bis 172.31, 192.168.x, verbindungslokale Adressen und Namen auf .local, .internal oder home.arpa. Alles andere verbietet das Zertifikat selbst; für einen Ort im Internet kann es nicht stehen. Der Schlüssel bleibt auf jenem Computer, im Datenordner.</p>
<h2>Wie man es zurücknimmt</h2>
<p>In denselben Einstellungen unter den selbst installierten Zertifikaten „%[3]s“ entfernen: wenn die Arbeit mit jenem Computer vorbei ist oder wenn er verloren ging.</p></main></html>`,
}
