"""Words that drafts often hold, so that even a first short document packs well.

Part of the format: the bytes never change, a better dictionary would be another
kind of packed document.
"""

DICTIONARY = (
    b'{"value":"{"bytes":"{"salt":"","block":{"name":"{"toml":"{"signed":"'
    b'"headline":["URGENT: ","Stopped early: ","Not done: weight, heart rate, '
    b"temperature, hydration signs, pain, body condition, muscle condition, head "
    b"and face, left and right eyes, left and right ears, nose, mouth, lips lifted, "
    b"neck and throat, left and right mandibular nodes, chest wall, left and right "
    b"lungs, heart and pulses, abdomen, left and right forelimbs, left and right "
    b'hindlimbs, skin and coat, back and nerve screen, tail, perineum and anus ("],'
    b'"gaps":0,"is_urgent":false,"continues":"","hash":"","is_demo":true,"title":"'
    b'"find":"{"animal_id":"","name":"","breed":"","sex":"male, neutered",'
    b'"female, spayed","age_days":,"age_on":"2026-","age_basis":"as told",'
    b'"colour":"","chip":"999000000000","place":"","behaviour":"","dangers":"",'
    b'"owner":{"name":"","phone":""},"version":1,"draft":{"exam_id":"","animal":{'
    b'"scope":"technician","setting":"clinic","protocol_id":"dog","protocol_hash":"'
    b'"started":{"utc_ms":,"offset_minutes":},"started_by":"","life_stage":"adult",'
    b'"people":[{"person_id":"","name":"","role":"veterinarian","initials":"",'
    b'"licence":""}],"presentation":{"complaint":""},"vitals":{"weight":{"reading":{'
    b'"typed":" kg","unit":"kg","value":""},"is_estimate":true,"temperature":{"site":'
    b'"rectal","unit":"degC","reason":"refused","heart_rate":{"beat/min",'
    b'"respiratory_rate":{"breath/min","evidence":{"kind":"count","count":,'
    b'"seconds":30},"state":"resting","flag":{"level":"within","text":"/min: within '
    b'the published range \xe2\x80\x93/min (; read)","interval_ids":["'
    b'"],"source_ids":[""],"unchecked":false},"capillary_refill":"mucous_membranes":'
    b'"hydration":"pain":"body_condition":"muscle_condition":"regions":{"distance":'
    b'"head":"eyes.left":"eyes.right":"ears.left":"ears.right":"nose":"mouth":"neck":'
    b'"chest":"lungs.left":"heart":"abdomen":"forelimbs.left":"hindlimbs.right":'
    b'"skin":"tail":{"is_parked":true}},"findings":[{"finding_id":"","words":"",'
    b'"term_id":"wound","side":"left","place":"","severity":"slight","extent":"",'
    b'"since":"","call":"noted","note":"","struck":[],"remark":"","asserted":['
    b'"no swelling, no pain shown","felt: no discharge seen","watched at rest: "],'
    b'{"conclusion":"asserted","asserted":[""],"attribution":{"examined_by":"'
    b'","entered_by":"","observed":{"utc_ms":179},"entered":{"utc_ms":179}}},"'
)
