/**
 * Every source the rules cite. Kept apart from the rules, which know only the ids, so that the texts can load later than
 * the first screen. How a source was read is said honestly: most were read as an abstract or an excerpt.
 */
export type HowRead = "whole" | "abstract" | "excerpt" | "through-another-source" | "memory";
export interface SourceRecord {
  /** Authors, title, place and year in short form. */
  readonly citation: string;
  readonly read: HowRead;
  readonly link?: string;
  /** What limits its weight, if anything. */
  readonly caution?: string;
}
/** How it was read, in words a clinician reads. */
export const READ_WORDS: { readonly [R in HowRead]: string } = {
  whole: "read in full",
  abstract: "read as abstract",
  excerpt: "read in part",
  "through-another-source": "read through a source that quotes it",
  memory: "not read; cited from memory",
};

const doi = (id: string) => `https://doi.org/${id}`;
const pmc = (id: string) => `https://www.ncbi.nlm.nih.gov/pmc/articles/${id}/`;
const pubmed = (id: string) => `https://pubmed.ncbi.nlm.nih.gov/${id}/`;

export const SOURCES = {
  AAFP22: {
    citation: "Childress MA et al. Common finger fractures and dislocations. Am Fam Physician 2022;105(6):631-639.",
    read: "abstract",
    link: "https://www.aafp.org/pubs/afp/issues/2022/0600/p631.html",
  },
  "AAFP-older": {
    citation: "Earlier table on fingertip injuries, Am Fam Physician (year not shown).",
    read: "through-another-source",
    caution: "seen only as a copy",
  },
  "AO-D": {
    citation: "Kastelec M, Dráč P; Lambert S (ed.). AO Foundation hand handbook, distal phalanges.",
    read: "excerpt",
  },
  "AO-T": {
    citation:
      "Fricker R, Kastelec M, Nuñez F, Axelrod T; Colton C (ed.). AO Foundation hand handbook, thumb distal phalanx.",
    read: "excerpt",
  },
  SCHN88: { citation: "Schneider LH. Fractures of the distal phalanx. Hand Clin 1988;4(3):537-547.", read: "abstract" },
  EATON: {
    citation: "Eaton C. Electronic Textbook of Hand Surgery: tuft, therapy, mallet and non-union pages.",
    read: "excerpt",
  },
  ORTHONET: { citation: "Orthonet (Ontario). Core topic: distal phalanx injuries.", read: "excerpt" },
  ANESKEY: {
    citation: "Minor emergencies textbook, chapter 111: fingertip (tuft) fractures.",
    read: "excerpt",
    caution: "book title from memory",
  },
  "ANESKEY-DB": { citation: "Anaesthesia textbook chapter: digital nerve block.", read: "excerpt" },
  DIFFIND: {
    citation: "Hand fractures textbook, chapter on differential indications (older AO code scheme).",
    read: "excerpt",
  },
  METCALFE16: {
    citation:
      "Metcalfe D, Aquilina AL, Hedley HM. Prophylactic antibiotics in open distal phalanx fractures: systematic review and meta-analysis. J Hand Surg Eur 2016.",
    read: "abstract",
    link: doi("10.1177/1753193415601055"),
    caution: "authors from memory",
  },
  STEV03: {
    citation: "Stevenson J et al. Flucloxacillin in open fractures of the distal phalanx. J Hand Surg Br 2003.",
    read: "through-another-source",
  },
  ALT08: {
    citation:
      "Altergott C et al. Pediatric fingertip injuries: do prophylactic antibiotics alter infection rates? Pediatr Emerg Care 2008.",
    read: "through-another-source",
  },
  SLOAN87: {
    citation:
      "Sloan JP, Dove AF, Maheson M et al. Antibiotics in open fractures of the distal phalanx? J Hand Surg Br 1987;12(1):123-124.",
    read: "through-another-source",
  },
  SUPROCK90: {
    citation:
      "Suprock MD, Hood JM, Lubahn JD. Role of antibiotics in open fractures of the finger. J Hand Surg Am 1990;15A:761-764.",
    read: "abstract",
  },
  KET17: {
    citation:
      "Ketonis C, Dwyer J, Ilyas AM. Timing of debridement and infection rates in open fractures of the hand. Hand 2017;12(2):119-126.",
    read: "abstract",
  },
  HS2: {
    citation:
      "HandStands 2: draft standards of care for open hand fractures (UK group of surgeons, therapists and a patient representative), undated draft.",
    read: "excerpt",
    caution: "a draft; excludes isolated tuft fractures",
  },
  JOHN22: {
    citation:
      "John H, Nagrath N. Audit against the national standards for open hand fractures. Br J Surg 2022, znac039.137.",
    read: "abstract",
  },
  BOAST17: {
    citation: "British Orthopaedic Association. Standard for open fractures, December 2017.",
    read: "excerpt",
    caution: "excludes hand, wrist and digit",
  },
  NG184: {
    citation:
      "National Institute for Health and Care Excellence. NG184 Human and animal bites: antimicrobial prescribing, 2020.",
    read: "excerpt",
    link: "https://www.nice.org.uk/guidance/ng184",
  },
  "FV-BITE": { citation: "NHS Forth Valley. Primary care table on bites (after NICE).", read: "excerpt" },
  KIELY22: {
    citation:
      "Kiely AL, Nolan GS, Cooper LRL. Management of Seymour fractures: systematic review. J Hand Surg Am 2022;47(12):1223.e1-e20.",
    read: "abstract",
  },
  REYES17: {
    citation:
      "Reyes BA, Ho CA. High risk of infection with delayed treatment of open Seymour fractures. J Pediatr Orthop 2017;37(4):247-253.",
    read: "excerpt",
    caution: "authors and exact rates from memory",
  },
  SAMADE21: {
    citation: "Samade R et al. Delayed presentation of Seymour fractures. Hand 2021;16(5):686-693.",
    read: "abstract",
  },
  HOULDEN22: {
    citation:
      "Houlden R. Does K-wire fixation improve outcomes in children with a Seymour fracture? Ann Med Surg 2022;82:104566.",
    read: "abstract",
  },
  KRUSCHE13: {
    citation: "Krusche-Mandl I et al. Seymour fractures. J Hand Surg Am 2013;38(2):258-264.",
    read: "abstract",
  },
  CHINSEY: {
    citation: "Surgical treatment of Seymour fractures in children and adolescents (26 cases, 2013-2015).",
    read: "abstract",
    caution: "authors and journal not shown",
  },
  SFNOPIN: {
    citation: "Acute Seymour fractures overlooked as simple nail injury: reduction without pinning (12 followed).",
    read: "abstract",
    caution: "journal not shown",
  },
  ANNPLAST22: {
    citation: "Treatment strategies for acute Seymour fractures. Ann Plast Surg, October 2022.",
    read: "abstract",
    link: pubmed("35703237"),
  },
  JBJSEST25: {
    citation: "Jerome JTJ. Seymour fracture with nail bed involvement. JBJS Essent Surg Tech 2025, ST.24.00041.",
    read: "abstract",
  },
  OBSEY: { citation: "Orthopaedic teaching page on the Seymour fracture.", read: "excerpt", caution: "teaching page" },
  HSS147: { citation: "Hospital for Special Surgery, New York. What's the diagnosis, case 147.", read: "excerpt" },
  EORTHO: {
    citation: "Orthopaedic teaching page on the Seymour fracture (adult variant).",
    read: "excerpt",
    caution: "teaching page",
  },
  BACH17: {
    citation:
      "Bachoura A, Ferikes AJ, Lubahn JD. Mallet and jersey finger in the athlete. Curr Rev Musculoskelet Med 2017;10(1):1-9.",
    read: "excerpt",
  },
  SALAZAR16: {
    citation:
      "Salazar Botero S et al. Acute traumatic closed mallet finger in adults. Arch Plast Surg 2016;43(2):134-144.",
    read: "abstract",
  },
  LAMARIS17: {
    citation: "Lamaris GA, Matthew MK. The diagnosis and management of mallet finger injuries. Hand 2017.",
    read: "abstract",
    link: doi("10.1177/1558944716642763"),
    caution: "authors from memory",
  },
  SAVAGE21: {
    citation:
      "Savage JA, Miller C, Collocott S, Elliott D, Smith K. Mallet fractures: prospective comparison. Australas J Plast Surg 2021;4(1).",
    read: "abstract",
  },
  KALAINOV05: {
    citation:
      "Kalainov DM et al. Nonsurgical treatment of closed mallet finger fractures. J Hand Surg Am 2005;30(3):580-586.",
    read: "abstract",
  },
  EBP17: {
    citation:
      "Mallet fracture above one third: extension block pinning versus no operation (49 patients). J Hand Surg Am 2017.",
    read: "abstract",
  },
  HANDOLL04: {
    citation:
      "Handoll HHG, Vaghela MV. Interventions for treating mallet finger injuries. Cochrane Database Syst Rev 2004, CD004574.",
    read: "abstract",
  },
  MA21: {
    citation: "Surgery versus orthosis for mallet finger: systematic review (searched to January 2021).",
    read: "abstract",
    link: pubmed("36625383"),
  },
  GRUBER14: {
    citation: "Gruber JS, Bot AGJ, Ring D. Night splinting after mallet finger. Hand 2014;9(2):145-150.",
    read: "abstract",
  },
  COS12: {
    citation: "Extension block and intrafocal pinning for mallet fracture. Clin Orthop Surg 2012;4(1):72-76.",
    read: "excerpt",
  },
  SUZUKI21: {
    citation: "Suzuki T et al. Procedural failures of the extension-block pin. J Hand Microsurg 2021;13(2):69-74.",
    read: "abstract",
  },
  YILD: {
    citation: "Yıldırım T et al. Delayed open reduction in chronic bony mallet. Jt Dis Relat Surg.",
    read: "abstract",
  },
  JOSR19: {
    citation: "Tang J, Wu K, Wang J, Zhang J. Double K-wires for old bony mallet finger. J Orthop Surg Res 2019;14.",
    read: "abstract",
    link: doi("10.1186/s13018-019-1513-2"),
  },
  AGARWAL12: {
    citation: "Agarwal S, Akhtar NM. Case report on mallet fracture wiring. J Orthop Case Rep 2012;2(3):17-20.",
    read: "abstract",
  },
  "FV-MAL": { citation: "NHS Forth Valley. Patient leaflet on mallet finger.", read: "excerpt" },
  MKUH: { citation: "Milton Keynes University Hospital. Patient leaflet on mallet finger.", read: "excerpt" },
  STEES: { citation: "South Tees Hospitals. Patient leaflet on mallet finger.", read: "excerpt" },
  "QA-MALLET": { citation: "Meals RA. Mallet finger, question-and-answer review, 2018.", read: "excerpt" },
  "QA-JERSEY": { citation: "Bowen JE. Jersey finger, question-and-answer review, 2018.", read: "excerpt" },
  "TEXT-THUMB": { citation: "Orthopaedic textbook page on thumb mallet.", read: "excerpt" },
  "RADREF-M": { citation: "Radiology reference case on mallet finger.", read: "excerpt" },
  BJAS: { citation: "Review of mallet finger. Benha J Appl Sci.", read: "excerpt" },
  "RADREF-LP": {
    citation: "Radiology reference page on the Leddy and Packer classification, revised 2023.",
    read: "excerpt",
  },
  CH35: { citation: "Orthopaedic hand trauma textbook, chapter 35: jersey finger, table 35.1.", read: "excerpt" },
  TEACHME: { citation: "Spring JE, Kakimoto A. Flexor tendon avulsion, textbook chapter.", read: "excerpt" },
  TRUMBLE92: {
    citation:
      "Trumble TE, Vedder NB, Benirschke SK. Avulsion of the profundus with fracture. J Hand Surg Am 1992;17(5):902-906.",
    read: "abstract",
  },
  VIENNA24: {
    citation: "Jersey finger type V at a level 1 trauma centre. J Clin Med 2024;13(21):6540.",
    read: "abstract",
  },
  BEDI: {
    citation: "Bedi A. Profundus avulsion with a large extra-articular fragment, conference abstract.",
    read: "excerpt",
  },
  DRBABA: {
    citation: "Hand surgeon's patient page on jersey finger.",
    read: "excerpt",
    caution: "weak: never the only support",
  },
  NEEDLE20: {
    citation: "K-wire versus 23-gauge needle for distal phalangeal fractures. BMC Musculoskelet Disord 2020.",
    read: "abstract",
    link: doi("10.1186/s12891-020-03606-6"),
  },
  NONUN23: {
    citation: "Risk factors for nonunion after distal phalangeal fractures. J Hand Surg Am 2023.",
    read: "abstract",
    link: doi("10.1016/j.jhsa.2023.10.003"),
  },
  ELCERR: { citation: "Letter on grafting of non-union (quoting Voche 1995 and Itoh 1985).", read: "excerpt" },
  SEABERG91: {
    citation:
      "Seaberg DC, Angelos WJ, Paris PM. Treatment of subungual hematomas with nail trephination. Am J Emerg Med 1991;9(3):209-210.",
    read: "abstract",
  },
  ROSER99: {
    citation:
      "Roser SE, Gellman H. Nail bed repair versus nail trephination for subungual hematomas in children. J Hand Surg Am 1999;24(6):1166-1170.",
    read: "abstract",
  },
  MEEK98: {
    citation: "Meek S, White M. Subungual haematomas: is simple trephining enough? J Accid Emerg Med 1998;15:269-271.",
    read: "through-another-source",
  },
  BB603: {
    citation: "Emergency Medicine Journal best-evidence topic 603: infection after trephining with a closed fracture.",
    read: "excerpt",
  },
  EJPS22: {
    citation: "Subungual hematoma: systematic review. Eur J Plast Surg 2022.",
    read: "abstract",
    link: doi("10.1007/s00238-022-02003-7"),
  },
  "OBGYN-NT": { citation: "Procedures textbook chapter: nail trephination.", read: "excerpt" },
  "PEM-TXT": { citation: "Paediatric emergency medicine textbook: nail bed injuries.", read: "excerpt" },
  "NAIL-EMD": { citation: "Emergency medicine review of nail bed injuries, 2021.", read: "excerpt" },
  NINJA23: {
    citation: "Jain A et al. NINJA: nail bed injury, randomised trial in children. Br J Surg 2023;110(4):432-438.",
    read: "abstract",
  },
  OSH90: {
    citation: "O'Shaughnessy M et al. Nail bed injuries and replacement of the nail. Ir Med J 1990;83(4):136-137.",
    read: "abstract",
  },
  "RCH-FT": {
    citation: "Royal Children's Hospital Melbourne. Clinical guideline: fingertip injuries.",
    read: "excerpt",
  },
  "RCH-PAR": { citation: "Royal Children's Hospital Melbourne. Parent sheet: nail bed injury.", read: "excerpt" },
  "RCH-TET": { citation: "Royal Children's Hospital Melbourne. Management of tetanus-prone wounds.", read: "excerpt" },
  MELB: {
    citation: "Melbourne hand unit page on distal phalanx fractures.",
    read: "excerpt",
    caution: "weak: never the only support",
  },
  FTAMP: { citation: "Fingertip amputation, review.", read: "abstract", link: pmc("PMC7317129") },
  "MSD-TET": { citation: "MSD Manual. Tetanus prophylaxis in routine wound management, table, 2023.", read: "excerpt" },
  "MDH-TET": {
    citation: "Minnesota Department of Health. Guide to tetanus prophylaxis in wound management.",
    read: "excerpt",
  },
  INTJEM10: { citation: "Tetanus prophylaxis, table 4. Int J Emerg Med 2010.", read: "excerpt" },
  IMM: { citation: "Immunize.org. Questions on tetanus immune globulin.", read: "excerpt" },
  "OUH-TET": { citation: "Oxford University Hospitals. Tetanus guide for wounds.", read: "excerpt" },
  "RHC-TET": { citation: "Royal Hospital for Children, Glasgow. Tetanus guide.", read: "excerpt" },
  EMBEDS: { citation: "Emergency medicine education page on tetanus-prone wounds.", read: "excerpt" },
  GB30: {
    citation: "UK Health Security Agency. Immunisation against infectious disease (Green Book), chapter 30: tetanus.",
    read: "excerpt",
    link: "https://www.gov.uk/government/publications/tetanus-the-green-book-chapter-30",
    caution: "only the landing page was read; the grid is from memory",
  },
  "LIDO-LABEL": {
    citation: "Lidocaine hydrochloride injection USP. Prescribing information, maximum recommended dosages (US label).",
    read: "excerpt",
  },
  "ACI-DB": { citation: "New South Wales Agency for Clinical Innovation. Digital nerve block.", read: "excerpt" },
  "AAP-SED": {
    citation: "American Academy of Pediatrics. Sedation guideline, table of local anaesthetics, footnote.",
    read: "excerpt",
  },
  "EPI-BET": {
    citation: "Mohan PP, Cherian PT. Epinephrine in digital nerve block. Emerg Med J.",
    read: "excerpt",
    link: pmc("PMC2658331"),
  },
  "EPI-HIGH": {
    citation: "High-dose epinephrine finger injections: review of accidental cases. Hand 2007.",
    read: "abstract",
    link: pmc("PMC2526033"),
  },
  DOSREIS16: {
    citation: "dos Reis A Jr, Quinto D. Epinephrine in digital block. Rev Bras Anestesiol 2016;66(1):63-71.",
    read: "abstract",
  },
  RAYN22: { citation: "McNamara CT, Greyson M. Digital ischemia in Raynaud phenomenon, 2022.", read: "abstract" },
  SARFANI22: {
    citation:
      "Sarfani S et al. Penicillin allergy and cefazolin in orthopaedics. J Am Acad Orthop Surg 2022;30(1):e1-e5.",
    read: "abstract",
  },
  JFP06: {
    citation: "Pichichero ME. Cephalosporins in penicillin-allergic patients. J Fam Pract 2006;55(2).",
    read: "abstract",
  },
  ACR19: {
    citation:
      "Torabi M et al. ACR Appropriateness Criteria: acute hand and wrist trauma. J Am Coll Radiol 2019;16(5S):S7-S17.",
    read: "excerpt",
  },
  UWRAD: { citation: "University of Washington Radiology. Growth-plate fractures.", read: "excerpt" },
  FRCEM: { citation: "Emergency medicine examination page on Salter-Harris types.", read: "excerpt" },
  EPIDISL05: {
    citation:
      "Sadiq S, Waseem M, Fahmy N. Epiphysis dislocation of the distal phalanx. Internet J Orthop Surg 2005;3(2).",
    read: "excerpt",
  },
  SHIII22: {
    citation: "Testa EJ et al. Salter-Harris III fracture of the distal phalanx. Hand 2022.",
    read: "abstract",
  },
  YEH09: { citation: "Yeh PC, Dodds SD. Pediatric hand fractures, review, 2009.", read: "abstract" },
  HARTLEY19: {
    citation: "Hartley RL et al. Referral of paediatric hand fractures. Plast Surg 2019;27(4):340-347.",
    read: "abstract",
  },
  "HPI-KEY": { citation: "Avisar E. High-pressure injection injuries, textbook chapter.", read: "excerpt" },
  "HPI-PEARL": { citation: "Emergency medicine teaching page on high-pressure injection.", read: "excerpt" },
  RAMOS18: {
    citation: "Ramos-Pascua LR et al. Enchondroma of the hand. J Hand Surg Am 2018;43(9):870.e1-e7.",
    read: "abstract",
  },
  "ALA-ACEP": {
    citation: "Barlotta KS. Case report: right thumb swelling (felon with osteomyelitis).",
    read: "excerpt",
  },
  KWIRE07: { citation: "Pin-track infections in children. J Pediatr Orthop 2007;27(2):154-157.", read: "abstract" },
  "AAP-NAT": {
    citation: "American Academy of Pediatrics. Table: when is a fracture suspicious for child abuse?",
    read: "excerpt",
  },
  RIDDOR: {
    citation:
      "Reporting of Injuries, Diseases and Dangerous Occurrences Regulations 2013 (UK SI 2013/1471), regulation 4.",
    read: "excerpt",
    link: "https://www.legislation.gov.uk/uksi/2013/1471/regulation/4",
  },
  OSHA39: {
    citation: "US Code of Federal Regulations, 29 CFR 1904.39.",
    read: "through-another-source",
    link: "https://www.ecfr.gov/current/title-29/section-1904.39",
  },
  "RBH-DRIVE": {
    citation: "Royal Berkshire NHS Foundation Trust. Leaflet on driving after hand injury, 2015.",
    read: "excerpt",
  },
  HOBMAN04: {
    citation: "Hobman JW et al. Driving after hand surgery. Br J Plast Surg 2004;57(4):354-357.",
    read: "abstract",
  },
  HORWITZ: {
    citation: "Horwitz MD. Fingertip injuries, medicolegal review.",
    read: "excerpt",
    caution: "weak: never the only support",
  },
  CLINADV: {
    citation: "Clinical teaching case on fingertip sensitivity (quotes older series).",
    read: "through-another-source",
  },
  DACRUZ88: {
    citation: "DaCruz DJ, Slade RJ, Malone W. Fractures of the distal phalanges. J Hand Surg Br 1988;13(3):350-352.",
    read: "memory",
  },
} as const satisfies { readonly [id: string]: SourceRecord };
export type SourceId = keyof typeof SOURCES;
