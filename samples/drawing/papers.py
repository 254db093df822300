"""Invented papers of A4 size: lease, pension statements, form pages; insurance as a PDF."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from .book import stamp
from .canvas import Colour, Fonts, Item, Sheet, noise
from .people import Person, day

A4_MM = (210.0, 297.0)
DPI = 240.0
INK = (36, 36, 40)
SIGN = (30, 42, 110)


def _paper(fonts: Fonts, tone: Colour = (247, 246, 242)) -> Sheet:
    return Sheet(A4_MM, DPI, fonts, tone)


def _finish(sheet: Sheet, rng: np.random.Generator, kind: str = "a4-page") -> Item:
    shape = sheet.shape
    grain = 1 + 0.006 * noise(rng, shape, (4, 4)) + 0.008 * noise(rng, shape, (160, 160))
    sheet.shade(grain)
    return sheet.finish(kind)


def _clauses() -> list[tuple[str, str]]:
    """Titles and texts of lease.txt."""
    text = (Path(__file__).parent / "lease.txt").read_text(encoding="utf-8")
    pairs = (block.split("\n", 1) for block in text.strip().split("\n\n"))
    return [(title, " ".join(body.split())) for title, body in pairs]


def lease(fonts: Fonts, person: Person, rng: np.random.Generator, pages: int = 3) -> list[Item]:
    """A lease of an invented flat, one item a page; with one page the clauses end early."""
    drawn = []
    clauses = _clauses()
    ends = (0, 4, 10, len(clauses)) if pages > 1 else (0, 3)
    for page in range(pages):
        sheet = _paper(fonts)
        y = 30.0
        if page == 0:
            y = _lease_head(sheet, person)
        for title, body in clauses[ends[page] : ends[page + 1]]:
            sheet.text(24, y, title, 12, face="bold")
            place = {"town": person.town, "province": person.province, "street": person.street}
            y = sheet.wrap(24, y + 6.6, 162, body.format(**place), 12, leading=1.6) + 5
        if page == pages - 1:
            _lease_end(sheet, person, y)
        sheet.text(105, 286, f"- {page + 1} di {pages} -", 9, fill=INK, anchor="ms")
        sheet.text(177, 278, person.given_names[:1] + ". " + person.surname[:1] + ".", 13,
                   face="hand", fill=SIGN)  # fmt: skip
        drawn.append(_finish(sheet, rng))
    return drawn


def _lease_head(sheet: Sheet, person: Person) -> float:
    sheet.text(105, 34, "CONTRATTO DI LOCAZIONE AD USO ABITATIVO", 14, face="bold", anchor="ms")
    sheet.text(105, 41, "documento di esempio, parti inventate", 9, face="italic", anchor="ms")
    text = (
        "Con la presente scrittura privata il signor Ottone FINTINELLI, di seguito locatore, e "
        f"{'la signora' if person.sex == 'F' else 'il signor'} {person.given_names} "
        f"{person.surname}, nat{'a' if person.sex == 'F' else 'o'} a {person.birthplace} (UTO) il "
        f"{day(person.born)}, codice fiscale {person.tax_code}, di seguito conduttore, convengono "
        "e stipulano quanto segue."
    )
    return sheet.wrap(24, 56, 162, text, 12, leading=1.6) + 6


def _lease_end(sheet: Sheet, person: Person, y: float) -> None:
    signed = f"Letto, approvato e sottoscritto. {person.town.title()}, 12.10.2026"
    sheet.text(24, y + 6, signed, 12)
    _signatures(sheet, person, y + 22)
    if y < 130:
        text = (
            "Le parti dichiarano di approvare specificamente gli articoli 2 (durata), 4 "
            "(deposito), 6 (uso), 10 (recesso) e 12 (domicilio), riletti uno per uno. Si "
            "consegnano due mazzi di chiavi. Lettura dei contatori: acqua 00417, energia "
            "08205, gas 01936."
        )
        y = sheet.wrap(24, y + 56, 162, text, 12, leading=1.6)
        _signatures(sheet, person, y + 12)


def _signatures(sheet: Sheet, person: Person, y: float) -> None:
    sheet.text(24, y, "Il locatore", 10)
    sheet.text(120, y, "Il conduttore", 10)
    sheet.text(26, y + 12, "O. Fintinelli", 20, face="hand", fill=(28, 28, 34))
    name = person.given_names.title().split()[0] + " " + person.surname.title()
    sheet.text(120, y + 12, name, 20, face="hand", fill=SIGN)
    sheet.line([24, y + 15, 86, y + 15], INK, 0.15)
    sheet.line([120, y + 15, 184, y + 15], INK, 0.15)


def pension(fonts: Fonts, person: Person, rng: np.random.Generator, number: int) -> Item:
    """A pension statement of an invented fund; `number` counts the months from July."""
    sheet = _paper(fonts, (250, 250, 247))
    month = ("July", "August", "September", "October")[number % 4]
    sheet.rect(20, 18, 10, 10, fill=(46, 92, 120))
    sheet.rect(23, 21, 10, 10, fill=(206, 142, 60))
    sheet.text(38, 25, "LUMEN PENSION FUND OF UTOPIA", 14, face="bold", fill=(40, 70, 92))
    sheet.text(
        38, 30.5, "invented fund · 1 Harbour Square, Lumenport (UTO)", 8.5, fill=(90, 96, 100)
    )
    sheet.line([20, 36, 190, 36], (46, 92, 120), 0.5)
    address = (f"{person.given_names} {person.surname}", person.street, f"{person.postcode} "
               f"{person.town} ({person.province})", "ITALY")  # fmt: skip
    for index, line in enumerate(address):
        sheet.text(120, 54 + index * 5.2, line, 10.5)
    sheet.text(20, 84, f"Pension statement · {month} 2026", 15, face="bold")
    sheet.text(20, 92, "Member number 55-0417-28", 10)
    sheet.text(20, 97.5, f"Date of payment: 27 {month} 2026", 10)
    intro = (
        "We confirm that the pension below was paid to your account for the month named above. The "
        "pension is paid for life and is adjusted each January."
    )
    y = sheet.wrap(20, 108, 170, intro, 10.5) + 6
    _pension_table(sheet, y, number)
    closing = (
        "This statement may be shown to offices as proof of income. It was made by machine and is "
        "valid without a signature. Yearly total of the pension in 2026: EUR 38,520.00 gross."
    )
    sheet.wrap(20, y + 74, 170, closing, 10.5)
    lines = ["LUMEN FUND", month[:3].upper() + " 2026", "SPECIMEN"]
    stamp(sheet, (160, y + 102), lines, (36, 84, 130), rng, turn_deg=-7.0 + 3 * number)
    sheet.line([20, 272, 190, 272], (46, 92, 120), 0.2)
    sheet.text(
        20, 278, f"Statement 2026/{number + 7:02d} · page 1 of 1 · SPECIMEN", 8, fill=(90, 96, 100)
    )
    return _finish(sheet, rng)


def _pension_table(sheet: Sheet, y: float, number: int) -> None:
    rows = (
        ("Description", "EUR"),
        ("Basic pension", "2,740.00"),
        ("Supplement for years of service", "470.00"),
        ("Gross pension", "3,210.00"),
        ("Health contribution", "- 96.30"),
        ("Tax withheld in Utopia", "- 321.00"),
        ("Paid to your account", "2,792.70"),
    )
    for index, (label, value) in enumerate(rows):
        top = y + index * 8.4
        if index in (0, 3, 6):
            sheet.rect(20, top - 5.8, 170, 8.4, fill=(226, 233, 238))
        face = "bold" if index in (0, 3, 6) else "regular"
        sheet.text(23, top, label, 10.5, face=face)
        sheet.text(187, top, value, 10.5, face=face, anchor="rs")
        sheet.line([20, top + 2.6, 190, top + 2.6], (170, 180, 188), 0.12)
    sheet.text(20, y + 64, f"Account ending in 4417 · reference LPF-{7 + number:02d}-2026", 9)


def form_page(fonts: Fonts, person: Person, rng: np.random.Generator, page: int) -> Item:
    """Page 1 to 8 of a neutral example form, filled in by a hand; like no office's form."""
    sheet = _paper(fonts, (250, 249, 246))
    sheet.text(105, 22, f"Modulo di esempio / specimen form page {page} of 8", 13, face="bold",
               anchor="ms")  # fmt: skip
    sheet.text(105, 28, "pagina inventata per le prove, non è il modulo dell'ufficio", 8.5,
               face="italic", fill=(90, 90, 94), anchor="ms")  # fmt: skip
    for index, (label, value) in enumerate(_form_rows(person, page)):
        y = 46 + index * 17.5
        sheet.text(22, y, label, 8.5, fill=(70, 72, 78))
        for cell in range(27):
            sheet.rect(22 + cell * 6.1, y + 1.8, 6.1, 7.6, outline=(140, 146, 152), width=0.18)
        for cell, sign in enumerate(value[:27]):
            wobble = rng.normal(0, 0.3, 2)
            sheet.text(25.05 + cell * 6.1 + wobble[0], y + 7.9 + wobble[1], sign, 14.5, face="hand",
                       fill=(22, 22, 28), anchor="ms")  # fmt: skip
    if page == 1:
        sheet.text(126, 262, "Firma / signature", 8.5, fill=(70, 72, 78))
        name = person.given_names.title().split()[0] + " " + person.surname.title()
        sheet.text(128, 271, name, 20, face="hand", fill=SIGN)
        sheet.line([124, 274, 188, 274], INK, 0.15)
    sheet.text(105, 288, f"{page}/8 · SPECIMEN", 8, fill=(90, 90, 94), anchor="ms")
    return _finish(sheet, rng, "form-page")


def _form_rows(person: Person, page: int) -> list[tuple[str, str]]:
    digits = day(person.born).replace(".", "")
    rows = {
        1: [("Cognome / surname", person.surname), ("Nome / given names", person.given_names),
            ("Provincia / province", person.province), ("Comune / town", person.town),
            ("Totale / total", "31"), ("Data / date", "27112026")],
        2: [("Codice / code", person.tax_code), ("Data di nascita / date of birth", digits),
            ("Luogo di nascita / place of birth", person.birthplace), ("Stato / state", "UTO"),
            ("Passaporto / passport", person.passport_number)],
        3: [("Visto / visa", person.visa_number), ("Tipo / type", "D"), ("Dal / from", "10112026"),
            ("Al / until", "09112027"), ("Ingresso / entry", "20112026")],
        4: [("Via / street", person.street), ("CAP / postcode", person.postcode),
            ("Comune / town", person.town), ("Provincia / province", person.province)],
    }  # fmt: skip
    empty = [(f"Voce {page}.{n} / item {page}.{n}", "") for n in range(1, 9)]
    return [*rows.get(page, []), *empty][:12]


def insurance(path: Path, fonts: Fonts, person: Person, pages: int = 2) -> None:
    """A health and accident policy of an invented company, born digital, face embedded."""
    from reportlab.lib.units import mm
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    for name in ("regular", "bold"):
        pdfmetrics.registerFont(TTFont(f"noto-{name}", fonts.paths[name]))
    canvas = Canvas(str(path), pagesize=(210 * mm, 297 * mm), invariant=1, pageCompression=1)
    canvas.setTitle("Polizza di esempio")
    for page in range(1, pages + 1):
        canvas.setFillColorRGB(0.16, 0.36, 0.30)
        canvas.rect(20 * mm, 268 * mm, 170 * mm, 11 * mm, stroke=0, fill=1)
        canvas.setFillColorRGB(1, 1, 1)
        canvas.setFont("noto-bold", 13)
        canvas.drawString(24 * mm, 271.6 * mm, "ASSICURAZIONE ESEMPIO · SPECIMEN")
        canvas.setFillColorRGB(0.12, 0.12, 0.14)
        y = 256.0
        for text, size, face in _policy(person, page):
            canvas.setFont(f"noto-{face}", size)
            canvas.drawString(20 * mm, y * mm, text)
            y -= size * 0.62
        canvas.setFont("noto-regular", 8)
        canvas.drawString(
            20 * mm, 18 * mm, f"Polizza UTO-2026-000417 · pagina {page} di {pages} · specimen"
        )
        canvas.showPage()
    canvas.save()


def _policy(person: Person, page: int) -> list[tuple[str, float, str]]:
    if page == 1:
        rows = [
            ("Polizza malattia e infortuni", 18.0, "bold"),
            ("Health and accident insurance, valid in Italy · invented company", 10.0, "regular"),
            ("", 8.0, "regular"), ("Contraente e assicurato", 12.0, "bold"),
            (f"{person.surname} {person.given_names}", 11.0, "regular"),
            (f"nata/o il {day(person.born)} a {person.birthplace} (UTO)", 11.0, "regular"),
            (f"codice fiscale {person.tax_code}", 11.0, "regular"),
            (f"{person.street.title()}, {person.postcode} {person.town.title()}", 11.0, "regular"),
            ("", 8.0, "regular"),
            ("Periodo di validità", 12.0, "bold"),
            ("dal 10.11.2026 ore 00:00 al 09.11.2027 ore 24:00", 11.0, "regular"),
            ("Territorio: Italia e Stati dell'area Schengen", 11.0, "regular"),
            ("", 8.0, "regular"),
            ("Garanzie", 12.0, "bold"),
            ("Spese mediche, ricovero e chirurgia: euro 30.000,00", 11.0, "regular"),
            ("Infortuni: euro 30.000,00", 11.0, "regular"),
            ("Rimpatrio sanitario: spese effettive", 11.0, "regular"),
            ("Franchigia: nessuna", 11.0, "regular"), ("", 8.0, "regular"),
            ("Premio annuo pagato: euro 612,00, quietanza n. 0417 del 02.11.2026", 11.0, "regular"),
        ]  # fmt: skip
        return rows
    lines = (
        "La presente polizza copre le spese per malattia e infortunio sostenute in Italia",
        "durante il periodo di validità, anche in caso di ricovero d'urgenza.",
        "L'assicurato presenta alla struttura sanitaria il numero di polizza e un documento.",
        "Il rimborso avviene entro trenta giorni dalla ricezione delle ricevute.",
        "Sono escluse le cure estetiche e le spese non prescritte da un medico.",
        "La copertura non è soggetta a limiti di età e non prevede periodi di carenza.",
        "Le comunicazioni si inviano all'indirizzo dell'assicurato riportato a pagina 1.",
    )
    english = (
        "The policy pays for illness and accidents in Italy during the whole period of validity,",
        "stays in hospital and emergencies included, with no excess and no waiting period.",
        "The insured person shows the number of the policy and an identity document.",
        "Bills are repaid within thirty days. The policy is not bound to an age limit.",
    )
    return [
        ("Condizioni in breve", 14.0, "bold"),
        ("", 6.0, "regular"),
        *((line, 11.0, "regular") for line in lines),
        ("", 10.0, "regular"),
        ("In short, in English", 14.0, "bold"),
        ("", 6.0, "regular"),
        *((line, 11.0, "regular") for line in english),
        ("", 14.0, "regular"),
        ("Luogo e data: Lumenport, 02.11.2026", 11.0, "regular"),
        ("Firma dell'impresa: Assicurazione Esempio (SPECIMEN)", 11.0, "regular"),
    ]
